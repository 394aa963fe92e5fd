// SPDX-License-Identifier: GPL-3.0-or-later
// How a call ends: see hw_fail in job.h for the sentence that goes with it.
#ifndef HW_BASE_STATUS_H
#define HW_BASE_STATUS_H

typedef enum hw_status_code {
    HW_OK = 0,
    HW_BAD_INPUT,  // the caller's values break a documented rule
    HW_BAD_FORMAT, // bytes from outside are not what they claim to be
    HW_NO_ANSWER,  // singular, not converged, not finite
    HW_NOT_FOUND,
    HW_NO_ACCESS,
    HW_NO_MEMORY,
    HW_IO_FAILED,
    HW_CANCELLED,
    HW_CLASH, // somebody else changed it first: read it again
} hw_status_code;

// Spelt as a type so that every function returning it can be marked in one place below.
typedef hw_status_code hw_status;

/// Put before a prototype: the compiler warns where the result is thrown away.
#define HW_MUST_USE __attribute__((warn_unused_result))

#define HW_TRY(call)                                                                               \
    do {                                                                                           \
        hw_status status_ = (call);                                                                \
        if (status_ != HW_OK) return status_;                                                      \
    } while (0)

/// Ends the program with file and line: a bug of the caller, never something outside data can do.
#define HW_ASSERT(holds) ((holds) ? (void)0 : hw_assert_failed(#holds, __FILE__, __LINE__))

/// Prints and aborts; called by HW_ASSERT alone.
_Noreturn void hw_assert_failed(const char *text, const char *file, int line);

#endif
