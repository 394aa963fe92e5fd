// SPDX-License-Identifier: GPL-3.0-or-later
// The only place where a unit's factor stands. SI inside; what a clinician types at the edges.
#ifndef HW_BASE_UNITS_H
#define HW_BASE_UNITS_H

#define HW_PI 3.14159265358979323846
#define HW_STANDARD_GRAVITY 9.80665 // m/s2, ISO 80000-3

#define HW_MM_PER_M 1e3 // as a constant, for tables and for scaling bands

static inline double hw_m_from_mm(double mm)
{
    return mm * 1e-3;
}
static inline double hw_mm_from_m(double m)
{
    return m * 1e3;
}
static inline double hw_m_from_cm(double cm)
{
    return cm * 1e-2;
}
static inline double hw_mm2_from_m2(double m2)
{
    return m2 * 1e6;
}
static inline double hw_cm3_from_m3(double m3)
{
    return m3 * 1e6;
}
static inline double hw_g_from_kg(double kg)
{
    return kg * 1e3;
}
static inline double hw_rad_from_deg(double deg)
{
    return deg * (HW_PI / 180.0);
}
static inline double hw_deg_from_rad(double rad)
{
    return rad * (180.0 / HW_PI);
}
static inline double hw_Pa_from_kPa(double kPa)
{
    return kPa * 1e3;
}
static inline double hw_kPa_from_Pa(double Pa)
{
    return Pa * 1e-3;
}

#endif
