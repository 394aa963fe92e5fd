// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef HW_FILES_INTERNAL_H
#define HW_FILES_INTERNAL_H

#include "files/files.h"

enum { HW_FILES_PATH = 4096 };

/// The status that errno means.
hw_status hw_files_status(void);

/// Writes all and syncs; false with errno.
bool hw_files_write_all(int file, hw_bytes bytes);

#endif
