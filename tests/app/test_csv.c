// SPDX-License-Identifier: GPL-3.0-or-later
#include "app/csv.h"
#include "app_tests.h"
#include "near.h"

#include <string.h>

// OWASP's list of what a spreadsheet takes for a formula; RFC 4180 for the quotes.
void test_csv__a_formula_is_a_text(void **state)
{
    (void)state;
    hw_test_room room = hw_test_open();
    csv to = csv_begin("recalls.csv", room.into);
    hw_bytes out = {0};
    csv_text(&to, "=1+1");
    csv_text(&to, "@\"x\"");
    csv_text(&to, "-2");
    csv_date(&to, (hw_date){0});
    csv_text(&to, "a, \"b\"\nand = c");
    csv_row(&to);
    CHECK_OK(&room.job, csv_end(&room.job, &to, &out));
    assert_string_equal((const char *)out.at,
                        "code,name,side,last_seen,why\r\n"
                        "\"'=1+1\",\"'@\"\"x\"\"\",\"'-2\",,\"a, \"\"b\"\"\nand = c\"\r\n");
    hw_test_close(&room);
}

// Each column is named once a table, and no table's columns stand apart.
void test_csv__the_dictionary_is_in_order(void **state)
{
    (void)state;
    int count = 0;
    const csv_column *columns = csv_columns(&count);
    for (int i = 0; i < count; i++) {
        assert_true(strlen(columns[i].meaning) > 5 && columns[i].kind[0]);
        for (int k = 0; k < i; k++) {
            bool same_table = strcmp(columns[i].table, columns[k].table) == 0;
            assert_false(same_table && strcmp(columns[i].name, columns[k].name) == 0);
            if (same_table) assert_string_equal(columns[i - 1].table, columns[i].table);
        }
    }
}
