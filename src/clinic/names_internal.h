// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef HW_CLINIC_NAMES_INTERNAL_H
#define HW_CLINIC_NAMES_INTERNAL_H

#include "names.h"

/// The row whose name is `typed`, but for blanks around it and the letters' case; or NULL.
const hw_name_row *hw_name_find_whole(const hw_name_row *rows, int count, const char *typed);

/// The same, and a salt, form or strength may follow the name.
const hw_name_row *hw_name_find(const hw_name_row *rows, int count, const char *typed);

#endif
