// SPDX-License-Identifier: GPL-3.0-or-later
// What stands in a stored record's body, or that it does not. Internal to app.
#ifndef HW_APP_BODY_H
#define HW_APP_BODY_H

#include "base/base.h"
#include "foot/foot.h"
#include "json/json.h"

/// The text under `key`; NULL where there is none.
const char *body_text(const hw_json *object, const char *key);

hw_maybe body_number(const hw_json *object, const char *key);

/// The day under `key`; a time may follow it. Unknown where there is none.
hw_date body_date(const hw_json *object, const char *key);

/// Of "foot": left, right, or unknown where it is not said.
hw_side body_side(const hw_json *object);

#endif
