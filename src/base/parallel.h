// SPDX-License-Identifier: GPL-3.0-or-later
// The same work for many items on all cores. Results cannot depend on how many there are.
#ifndef HW_BASE_PARALLEL_H
#define HW_BASE_PARALLEL_H

/// Calls each(with, i) once for i = 0 .. count - 1, in any order and from several threads, and
/// returns when all are done. `each` writes only what belongs to item i. Where no thread can be
/// started the caller's own does the work.
void hw_parallel(int count, void (*each)(void *with, int i), void *with);

#endif
