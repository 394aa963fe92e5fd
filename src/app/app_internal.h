// SPDX-License-Identifier: GPL-3.0-or-later
// Shared by the files of app.
#ifndef HW_APP_INTERNAL_H
#define HW_APP_INTERNAL_H

#include "app/app.h"

/// What wearing this device is to the foot model.
///
///   press   its stiffness, where it was computed; NULL: the model's own
hw_mech_change app_change_of(const char *name, const hw_orthosis_order *order,
                             const hw_press *press);

#endif
