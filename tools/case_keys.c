// SPDX-License-Identifier: GPL-3.0-or-later
// Prints the generated half of docs/case.md: every key, treatment, medicine and condition the tables know.
// tools/case_doc.sh puts it in its place.
#include "clinic/clinic.h"

#include <stdio.h>
#include <string.h>

static void print_words(const hw_finding_row *row)
{
    if (row->kind == HW_KIND_NUMBER) {
        printf("%g to %g%s%s", row->low, row->high, row->unit[0] ? " " : "", row->unit);
        return;
    }
    for (int i = 0; i < HW_FINDING_WORDS && row->words[i]; i++)
        printf("%s%s", i ? ", " : "", row->words[i]);
}

static void print_scope(hw_scope scope, const char *title)
{
    printf("### %s\n\n| key | may be | what it is |\n|---|---|---|\n", title);
    for (int i = 0; i < HW_FINDING_COUNT; i++) {
        const hw_finding_row *row = &hw_finding_rows()[i];
        if (row->scope != scope) continue;
        printf("| `%s` | ", row->key);
        print_words(row);
        printf(" | %s |\n", row->what);
    }
    printf("\n");
}

static void print_acts(void)
{
    printf("### Treatments, as `act` and in `chosen`\n\n");
    for (int i = 0; i < HW_ACT_COUNT; i++) {
        const hw_act_row *row = &hw_act_rows()[i];
        printf("- `%s`%s", row->word, row->other[0] ? ", also" : "");
        for (int k = 0; k < 3 && row->other[k]; k++) printf(" `%s`", row->other[k]);
        printf("\n");
    }
    printf("\n");
}

static void print_groups(const char *title, const char *(*word)(int), int count)
{
    printf("### %s\n\n", title);
    for (int i = 0; i < count; i++) printf("%s`%s`", i ? ", " : "", word(i));
    printf("\n\n");
}

static void print_names(const char *title, const hw_name_row *rows, int count)
{
    printf("### %s\n\n", title);
    for (int i = 0; i < count; i++) printf("%s%s", i ? ", " : "", rows[i].name);
    printf("\n\n");
}

int main(void)
{
    int count = 0;
    print_scope(HW_SCOPE_VISIT, "At the top");
    print_scope(HW_SCOPE_PERSON, "In `person`");
    print_scope(HW_SCOPE_RED_FLAG, "In `red_flags`");
    print_scope(HW_SCOPE_FOOT, "In `feet.left` and `feet.right`");
    print_scope(HW_SCOPE_HEEL_PAIN, "In `heel_pain`");
    print_acts();
    print_groups("Groups of medicines", hw_medicine_group_word, HW_MED_GROUPS);
    print_groups("Groups of conditions", hw_condition_group_word, HW_COND_GROUPS);
    print_groups("Groups of allergies", hw_allergen_word, HW_ALLERGEN_GROUPS);
    const hw_name_row *rows = hw_substance_rows(&count);
    print_names("Substances known by name", rows, count);
    rows = hw_condition_rows(&count);
    print_names("Conditions known by name", rows, count);
    return 0;
}
