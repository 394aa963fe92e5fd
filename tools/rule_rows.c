// SPDX-License-Identifier: GPL-3.0-or-later
// Prints docs/rules.md, or with "digests" the lines that data/rule_reviews.csv must hold: a row that was
// changed has another digest, and a test fails until somebody writes who reviewed it and when.
#include "clinic/clinic.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

static const char *kind_word(hw_rule_kind kind)
{
    static const char *const words[] = {"caution", "stop", "never"};
    return words[kind];
}

static void print_acts(hw_acts acts)
{
    int printed = 0;
    if (!acts) printf("the plan as a whole");
    for (int i = 0; i < HW_ACT_COUNT; i++)
        if (acts & (1u << i)) printf("%s%s", printed++ ? ", " : "", hw_act_rows()[i].word);
}

static void print_rule(const hw_rule *rule)
{
    const hw_source *source = hw_source_by_key(rule->source);
    printf("| `%s`%s | %s | ", rule->id, rule->retired ? " (retired)" : "", kind_word(rule->kind));
    print_acts(rule->acts);
    printf(" | %s%s%s%s | %s | ", rule->sentence, rule->urgency ? " To be seen: " : "",
           rule->urgency ? hw_urgency_word(rule->urgency) : "", rule->urgency ? "." : "",
           rule->unanswered == HW_UNANSWERED_HOLDS ? "holds it" : "asks");
    bool says_itself = strcmp(source->citation, source->status) == 0;
    printf("%s%s%s, %s |\n", source->citation, says_itself ? "" : ", ",
           says_itself ? "" : source->status, source->checked_on);
}

static void print_table(const char *title, const hw_rule *rules, int count)
{
    printf("## %s\n\n%d rows.\n\n| row | kind | about | what stands | unknown | source, status, "
           "checked |\n|---|---|---|---|---|---|\n",
           title, count);
    for (int i = 0; i < count; i++) print_rule(&rules[i]);
    printf("\n");
}

static void print_digests(const hw_rule *rules, int count)
{
    for (int i = 0; i < count; i++)
        printf("%s,%016" PRIx64 "\n", rules[i].id, hw_rule_digest(&rules[i]));
}

int main(int argc, char **argv)
{
    int count = 0, flag_count = 0;
    const hw_rule *rules = hw_rule_rows(&count), *flags = hw_red_flag_rows(&flag_count);
    if (argc > 1 && strcmp(argv[1], "digests") == 0) {
        print_digests(flags, flag_count);
        print_digests(rules, count);
        return 0;
    }
    printf(
        "# The rules\n\nPrinted by `tools/rule_rows.c` from the tables the program judges by; "
        "version %s. **never** cannot be\noverruled, **stop** needs a clinician, a reason and a "
        "second person, **caution** is acknowledged. *Unknown*: what an\nunanswered question does. "
        "Status: *seen* (the text was read), *memory*, *common practice* (a habit of the trade, an "
        "editable\ndefault, not evidence), *derived*. A row that is changed needs a new line in "
        "`data/rule_reviews.csv`.\n\n",
        HW_RULES_VERSION);
    print_table("Red flags", flags, flag_count);
    print_table("Treatments", rules, count);
    return 0;
}
