// SPDX-License-Identifier: GPL-3.0-or-later
#include "near.h"
#include "report/figure_pen.h"
#include "report/figures.h"
#include "report_tests.h"

#include <stdio.h>
#include <stdlib.h>

// All on one page; HEELWRIGHT_FIGURES names a file to look at it.
void test_figures__each_says_in_words_what_it_shows(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    const hw_pdf_about about = {"Figures", "en-GB", "2026-03-02", 210, 297, 0, 0};
    hw_pdf *pdf = NULL;
    hw_bytes file = {0};
    CHECK_OK(&room.job, hw_pdf_begin(&room.job, &about, &pdf));
    hw_pdf_page(pdf);
    for (int i = 1; i < FIGURE_COUNT; i++) {
        assert_non_null(figure_words((figure_kind)i));
        figure_draw(pdf, (figure_kind)i, 10 + 100 * ((i - 1) % 2), 5 + 72 * ((i - 1) / 2), 90);
    }
    CHECK_OK(&room.job, hw_pdf_end(&room.job, pdf, room.into, &file));
    const char *path = getenv("HEELWRIGHT_FIGURES");
    FILE *out = path ? fopen(path, "wb") : NULL;
    if (out) {
        assert_int_equal(fwrite(file.at, 1, file.count, out), file.count);
        fclose(out);
    }
    hw_test_close(&room);
}

// Whatever the pose, bones keep their lengths; standing straight they add up to the height
// (from memory: Winter 1979: ankle 0.039, knee 0.285, hip 0.530, shoulder 0.818 of it).
void test_figures__one_person_of_fixed_bones_takes_every_pose(void **state)
{
    (void)state;
    body_pose pose = {.hip = {50, 40}, .height = 60};
    const skeleton straight = body_bones(&pose);
    CHECK_NEAR(straight.ankle[1][1] + 0.039 * 60 - straight.hip[1], 0.530 * 60, 0.1, "board units");
    CHECK_NEAR(straight.hip[1] - straight.shoulder[1], (0.818 - 0.530) * 60, 0.1, "board units");
    for (int turn = 0; turn < 24; turn++) {
        pose.legs[1] = (limb_pose){15.0 * turn, -40.0 * turn, 90};
        pose.arms[0] = (limb_pose){-33.0 * turn, 7.0 * turn, 0};
        pose.trunk = 3.0 * turn;
        const skeleton bent = body_bones(&pose);
        CHECK_NEAR(hypot(bent.knee[1][0] - bent.hip[0], bent.knee[1][1] - bent.hip[1]), 0.245 * 60,
                   1e-9, "board units");
        CHECK_NEAR(hypot(bent.ankle[1][0] - bent.knee[1][0], bent.ankle[1][1] - bent.knee[1][1]),
                   0.246 * 60, 1e-9, "board units");
        CHECK_NEAR(hypot(bent.elbow[0][0] - bent.shoulder[0], bent.elbow[0][1] - bent.shoulder[1]),
                   0.186 * 60, 1e-9, "board units");
    }
}
