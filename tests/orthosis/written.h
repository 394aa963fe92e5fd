// SPDX-License-Identifier: GPL-3.0-or-later
// A device as its file holds it, and what is measured of it by rays through the file's triangles: nothing of
// the device's own struct is looked at.
#ifndef HW_TESTS_ORTHOSIS_WRITTEN_H
#define HW_TESTS_ORTHOSIS_WRITTEN_H

#include "near.h"
#include "orthosis/orthosis.h"

enum { WRITTEN_BINS = 512, WRITTEN_MISSED = 160 };

/// The triangles by where along the foot they lie, 1 mm a bin, so that a ray looks at few.
typedef struct written {
    hw_mesh mesh; // as a left foot's, m
    int start[WRITTEN_BINS + 1];
    int *list;
} written;

/// Writes the device's solid to an STL or a 3MF, reads the bytes back and turns them into a left foot's, m.
HW_MUST_USE hw_status written_of(hw_job *job, const hw_foot *foot, const hw_orthosis *device,
                                 bool is_3mf, hw_arena *into, written *out);

/// The same triangles, turned.
HW_MUST_USE hw_status written_turned(hw_job *job, const written *file, const hw_pose *pose,
                                     hw_arena *into, written *out);

/// Highest (or lowest) place of the solid on the upright through x, y; NAN where it is not.
double written_height(const written *file, double x, double y, bool is_top);

/// Tilt across, varus +, of top or bottom between two uprights `half` to each side.
double written_tilt(const written *file, double x, double y, double half, bool is_top);

/// How far the file's top lies under another's at x, y, along the other's normal, m.
double written_drop(const written *file, const written *other, double x, double y);

/// The section at x: outermost y (medial: least), and the highest z of its two halves, m.
typedef struct written_section {
    double medial, lateral, medial_crest, lateral_crest;
} written_section;
written_section written_section_at(const written *file, double x);

/// Outermost y on the inner and the outer side of that section at height z, m; 1 and -1 where it is not so high.
void written_sides(const written *file, double x, double z, double out[2]);

/// Where the solid ends in front at y, m.
double written_front(const written *file, double y);

/// What became of the corrections of one prescription.
typedef struct written_tally {
    int measured;
    char missed[WRITTEN_MISSED]; // the last that did not measure as ordered
} written_tally;

/// Measures everything of the order that can be read from the file back; fill and expansions that are those of
/// every order (defaults) only where `reads_defaults`: most orders have them, and each takes a device more.
HW_MUST_USE hw_status written_measure(hw_job *job, const hw_foot *foot,
                                      const hw_orthosis_order *order, bool reads_defaults,
                                      const written *file, hw_arena *into, written_tally *out);

#endif
