// SPDX-License-Identifier: GPL-3.0-or-later
// Paths, queries and cookies as they come over the wire. Every byte is a stranger's.
#ifndef HW_HTTP_PARSE_H
#define HW_HTTP_PARSE_H

#include "base/base.h"

enum { HW_HTTP_SEGMENTS_MAX = 8 };

/// "/people/3f%20a" is {"people", "3f a"}; "/" has no segment.
typedef struct hw_http_path {
    const char *segments[HW_HTTP_SEGMENTS_MAX];
    int count;
} hw_http_path;

/// Decodes a path. What could mean something to a file system is refused, decoded or not.
///
///   fails   HW_BAD_INPUT not beginning with '/', an empty segment, "." or "..", a decoded '/', '\'
///           or control byte, a broken %, not UTF-8, too many segments
///   source  RFC 3986 sections 2.1 and 3.3
HW_MUST_USE hw_status hw_http_path_read(hw_job *job, const char *raw, hw_arena *into,
                                        hw_http_path *out);

/// The decoded value of one name of a query ("a=1&b=two+words"); NULL when it is not there.
///
///   fails   HW_BAD_INPUT the name stands twice, a broken %, a control byte, not UTF-8
///   source  WHATWG URL, application/x-www-form-urlencoded parsing
HW_MUST_USE hw_status hw_http_query_read(hw_job *job, const char *raw, const char *name,
                                         hw_arena *into, const char **out);

/// Copies a cookie's value out of a Cookie header (may be NULL). False when it is absent, there
/// twice, or does not fit into `room` bytes with its zero.
///
///   source  RFC 6265 section 4.2.1
bool hw_http_cookie_read(const char *header, const char *name, char *value, size_t room);

/// Whether the bytes are well-formed UTF-8 (RFC 3629: no surrogates, nothing overlong).
bool hw_http_is_utf8(const char *text);

#endif
