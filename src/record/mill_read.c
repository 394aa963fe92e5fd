// SPDX-License-Identifier: GPL-3.0-or-later
// The milling table and the choice, by shapes as the case file; docs/milling.md says the same for
// people.
#include "record/record_internal.h"

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

static const double s_per_min = 60.0;
static const char *const kinds[] = {"shell", "positive cast"};
static const char *const cutters[] = {"flat", "ball"};

const char *hw_mill_kind_word(hw_mill_kind kind)
{
    return kinds[kind];
}

// As typed. What is missing is a fault: nothing of a machine is guessed.
typedef struct typed_machine {
    const char *name;
    hw_maybe x_low, x_high, y_low, y_high, z_high, rapid, feed_max, acceleration;
    hw_maybe spindle_min, spindle_max, spindle_start;
    int dwell_in, line_ends;
} typed_machine;

typedef struct typed_block {
    const char *name, *material;
    hw_maybe length, width, height, pin_inset, clamp_inset;
} typed_block;

typedef struct typed_tool {
    int cutter; // -1: not given
    hw_maybe number, diameter, reach, depth, apart, feed, plunge, spindle;
} typed_tool;

typedef struct typed_choice {
    int kind;
    const char *block;
    hw_maybe rough, finish, scallop, allowance;
} typed_choice;

typedef struct typed_mill {
    typed_machine machine;
    typed_block blocks[HW_MILL_BLOCKS_MAX];
    typed_tool tools[HW_MILL_TOOLS_MAX];
    typed_choice choice;
    int block_count, tool_count;
} typed_mill;

static const case_number machine_numbers[] = {
    {"x_low_mm", offsetof(typed_machine, x_low), -5000, 5000, "mm"},
    {"x_high_mm", offsetof(typed_machine, x_high), -5000, 5000, "mm"},
    {"y_low_mm", offsetof(typed_machine, y_low), -5000, 5000, "mm"},
    {"y_high_mm", offsetof(typed_machine, y_high), -5000, 5000, "mm"},
    {"z_high_mm", offsetof(typed_machine, z_high), 20, 1000, "mm"},
    {"rapid_mm_per_min", offsetof(typed_machine, rapid), 100, 60000, "mm/min"},
    {"feed_max_mm_per_min", offsetof(typed_machine, feed_max), 100, 30000, "mm/min"},
    {"acceleration_mm_per_s2", offsetof(typed_machine, acceleration), 10, 20000, "mm/s2"},
    {"spindle_min_per_min", offsetof(typed_machine, spindle_min), 1, 60000, "per min"},
    {"spindle_max_per_min", offsetof(typed_machine, spindle_max), 1, 60000, "per min"},
    {"spindle_start_s", offsetof(typed_machine, spindle_start), 1, 60, "s"},
};

static const case_number block_numbers[] = {
    {"length_mm", offsetof(typed_block, length), 20, 1000, "mm"},
    {"width_mm", offsetof(typed_block, width), 20, 1000, "mm"},
    {"height_mm", offsetof(typed_block, height), 5, 300, "mm"},
    {"pin_inset_mm", offsetof(typed_block, pin_inset), 2, 100, "mm"},
    {"clamp_inset_mm", offsetof(typed_block, clamp_inset), 2, 200, "mm"},
};

static const case_number tool_numbers[] = {
    {"number", offsetof(typed_tool, number), 1, 99, ""},
    {"diameter_mm", offsetof(typed_tool, diameter), 1, 50, "mm"},
    {"reach_mm", offsetof(typed_tool, reach), 2, 300, "mm"},
    {"depth_mm", offsetof(typed_tool, depth), 0.1, 50, "mm"},
    {"passes_apart_percent", offsetof(typed_tool, apart), 1, 70, "% of the diameter"},
    {"feed_mm_per_min", offsetof(typed_tool, feed), 10, 30000, "mm/min"},
    {"plunge_mm_per_min", offsetof(typed_tool, plunge), 10, 30000, "mm/min"},
    {"spindle_per_min", offsetof(typed_tool, spindle), 1, 60000, "per min"},
};

// -- keys that are no numbers

static hw_status read_machine_name(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((typed_machine *)target)->name);
}

static hw_status read_dwell_in(case_reader *reader, const hw_json *value, void *target)
{
    static const char *const words[] = {"s", "ms"};
    return case_read_word(reader, value, words, COUNT(words), &((typed_machine *)target)->dwell_in);
}

static hw_status read_line_ends(case_reader *reader, const hw_json *value, void *target)
{
    static const char *const words[] = {"LF", "CR LF"};
    return case_read_word(reader, value, words, COUNT(words),
                          &((typed_machine *)target)->line_ends);
}

static hw_status read_block_name(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((typed_block *)target)->name);
}

static hw_status read_block_material(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((typed_block *)target)->material);
}

static hw_status read_cutter(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_word(reader, value, cutters, COUNT(cutters), &((typed_tool *)target)->cutter);
}

static hw_status read_make(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_word(reader, value, kinds, COUNT(kinds), &((typed_choice *)target)->kind);
}

static hw_status read_choice_block(case_reader *reader, const hw_json *value, void *target)
{
    return case_read_text(reader, value, &((typed_choice *)target)->block);
}

// -- whole objects

// Every number of the shape must have been given.
static hw_status ask_all(case_reader *reader, const case_shape *shape, const void *target)
{
    for (int i = 0; i < shape->number_count; i++) {
        const hw_maybe *value = (const hw_maybe *)((const char *)target + shape->numbers[i].offset);
        if (!value->known)
            HW_TRY(hw_faults_add(reader->job, reader->faults, reader->path, "'%s' is missing",
                                 shape->numbers[i].key));
    }
    return HW_OK;
}

static hw_status read_machine(case_reader *reader, const hw_json *value, void *target)
{
    static const case_field fields[] = {
        {"name", read_machine_name}, {"dwell_in", read_dwell_in}, {"line_ends", read_line_ends}};
    static const case_shape shape = {
        fields, COUNT(fields), machine_numbers, COUNT(machine_numbers), false, 0};
    typed_machine *machine = &((typed_mill *)target)->machine;
    *machine = (typed_machine){.name = "machine"};
    HW_TRY(case_read_object(reader, value, &shape, machine, NULL));
    return ask_all(reader, &shape, machine);
}

// Rows of a list, each at a path of its own.
static hw_status read_list(case_reader *reader, const hw_json *list, int most,
                           hw_status (*read_row)(case_reader *, const hw_json *, typed_mill *, int),
                           typed_mill *typed)
{
    const char *outer = reader->path;
    if (list->kind != HW_JSON_LIST || list->count < 1 || list->count > most)
        return hw_faults_add(reader->job, reader->faults, reader->path, "must be a list of 1 to %d",
                             most);
    for (int i = 0; i < list->count; i++) {
        HW_TRY(hw_text_format(reader->job, reader->into, &reader->path, "%s[%d]", outer, i));
        HW_TRY(read_row(reader, &list->items[i], typed, i));
    }
    reader->path = outer;
    return HW_OK;
}

static hw_status read_block(case_reader *reader, const hw_json *value, typed_mill *typed, int i)
{
    static const case_field fields[] = {{"name", read_block_name},
                                        {"material", read_block_material}};
    static const case_shape shape = {
        fields, COUNT(fields), block_numbers, COUNT(block_numbers), false, 0};
    typed->blocks[i] = (typed_block){.name = "", .material = ""};
    HW_TRY(case_read_object(reader, value, &shape, &typed->blocks[i], NULL));
    if (!typed->blocks[i].name[0])
        HW_TRY(hw_faults_add(reader->job, reader->faults, reader->path, "'name' is missing"));
    return ask_all(reader, &shape, &typed->blocks[i]);
}

static hw_status read_tool(case_reader *reader, const hw_json *value, typed_mill *typed, int i)
{
    static const case_field fields[] = {{"cutter", read_cutter}};
    static const case_shape shape = {
        fields, COUNT(fields), tool_numbers, COUNT(tool_numbers), false, 0};
    typed->tools[i] = (typed_tool){.cutter = -1};
    HW_TRY(case_read_object(reader, value, &shape, &typed->tools[i], NULL));
    if (typed->tools[i].cutter < 0)
        HW_TRY(hw_faults_add(reader->job, reader->faults, reader->path, "'cutter' is missing"));
    for (int k = 0; k < i; k++)
        if (typed->tools[k].number.known &&
            typed->tools[k].number.value == typed->tools[i].number.value)
            HW_TRY(hw_faults_add(reader->job, reader->faults, reader->path,
                                 "number %g is another tool's", typed->tools[i].number.value));
    return ask_all(reader, &shape, &typed->tools[i]);
}

static hw_status read_blocks(case_reader *reader, const hw_json *value, void *target)
{
    typed_mill *typed = target;
    HW_TRY(read_list(reader, value, HW_MILL_BLOCKS_MAX, read_block, typed));
    typed->block_count = value->kind == HW_JSON_LIST ? value->count : 0;
    return HW_OK;
}

static hw_status read_tools(case_reader *reader, const hw_json *value, void *target)
{
    typed_mill *typed = target;
    HW_TRY(read_list(reader, value, HW_MILL_TOOLS_MAX, read_tool, typed));
    typed->tool_count = value->kind == HW_JSON_LIST ? value->count : 0;
    return HW_OK;
}

static hw_status read_choice(case_reader *reader, const hw_json *value, void *target)
{
    static const case_field fields[] = {{"make", read_make}, {"block", read_choice_block}};
    static const case_number numbers[] = {
        {"rough_tool", offsetof(typed_choice, rough), 1, 99, ""},
        {"finish_tool", offsetof(typed_choice, finish), 1, 99, ""},
        {"scallop_mm", offsetof(typed_choice, scallop), 0.005, 0.5, "mm"},
        {"allowance_mm", offsetof(typed_choice, allowance), 0.2, 2, "mm"},
    };
    static const case_shape shape = {fields, COUNT(fields), numbers, COUNT(numbers), false, 0};
    return case_read_object(reader, value, &shape, &((typed_mill *)target)->choice, NULL);
}

static hw_status read_version(case_reader *reader, const hw_json *value, void *target)
{
    (void)target;
    if (value->kind == HW_JSON_NUMBER && value->number == 1.0) return HW_OK;
    return hw_faults_add(reader->job, reader->faults, reader->path,
                         "must be 1, the version of the milling table this program reads");
}

static hw_status read_all(hw_job *job, hw_bytes json, hw_arena *into, typed_mill *typed,
                          hw_faults *faults)
{
    static const case_field fields[] = {{"heelwright_mill", read_version},
                                        {"machine", read_machine},
                                        {"blocks", read_blocks},
                                        {"tools", read_tools},
                                        {"choice", read_choice}};
    static const case_shape shape = {fields, COUNT(fields), NULL, 0, false, 0};
    case_reader reader = {.job = job, .into = into, .faults = faults, .path = ""};
    const hw_json *root = NULL;
    HW_TRY(hw_json_read(job, json, into, &root));
    HW_TRY(case_read_object(&reader, root, &shape, typed, NULL));
    return hw_faults_status(job, faults);
}

// -- to SI

static double speed(hw_maybe mm_per_min)
{
    return hw_m_from_mm(mm_per_min.value) / s_per_min;
}

static hw_mill_machine machine_of(const typed_machine *typed)
{
    return (hw_mill_machine){
        .name = typed->name,
        .travel = {{hw_m_from_mm(typed->x_low.value), hw_m_from_mm(typed->y_low.value), 0.0},
                   {hw_m_from_mm(typed->x_high.value), hw_m_from_mm(typed->y_high.value),
                    hw_m_from_mm(typed->z_high.value)}},
        .rapid_m_per_s = speed(typed->rapid),
        .feed_max_m_per_s = speed(typed->feed_max),
        .acceleration_m_per_s2 = hw_m_from_mm(typed->acceleration.value),
        .spindle_min_per_min = typed->spindle_min.value,
        .spindle_max_per_min = typed->spindle_max.value,
        .spindle_start_s = typed->spindle_start.value,
        .dwells_in_ms = typed->dwell_in == 1,
        .ends_lines_with_cr = typed->line_ends == 1};
}

static hw_mill_block block_of(const typed_block *typed)
{
    return (hw_mill_block){typed->name,
                           typed->material,
                           hw_m_from_mm(typed->length.value),
                           hw_m_from_mm(typed->width.value),
                           hw_m_from_mm(typed->height.value),
                           hw_m_from_mm(typed->pin_inset.value),
                           hw_m_from_mm(typed->clamp_inset.value)};
}

static hw_mill_tool tool_of(const typed_tool *typed)
{
    return (hw_mill_tool){(int)typed->number.value,
                          typed->cutter == 1 ? HW_CUTTER_BALL : HW_CUTTER_FLAT,
                          0.5 * hw_m_from_mm(typed->diameter.value),
                          hw_m_from_mm(typed->reach.value),
                          hw_m_from_mm(typed->depth.value),
                          typed->apart.value / 100.0,
                          speed(typed->feed),
                          speed(typed->plunge),
                          typed->spindle.value};
}

static hw_status find_tool(hw_job *job, const hw_mill *mill, double number, const char *key,
                           hw_faults *faults, int *out)
{
    for (int i = 0; i < mill->tool_count; i++)
        if (mill->tools[i].number == (int)number) {
            *out = i;
            return HW_OK;
        }
    return hw_faults_add(job, faults, key, "the table has no tool %g", number);
}

static hw_status choose(hw_job *job, const typed_choice *typed, hw_mill *mill, hw_faults *faults)
{
    mill->kind = (hw_mill_kind)typed->kind;
    mill->scallop_m = hw_m_from_mm(typed->scallop.value);
    mill->allowance_m = hw_m_from_mm(typed->allowance.value);
    mill->block = -1;
    for (int i = 0; i < mill->block_count; i++)
        if (hw_text_same(mill->blocks[i].name, typed->block)) mill->block = i;
    if (mill->block < 0)
        HW_TRY(hw_faults_add(job, faults, "choice.block", "the table has no block \"%.60s\"",
                             typed->block));
    HW_TRY(find_tool(job, mill, typed->rough.value, "choice.rough_tool", faults, &mill->rough));
    return find_tool(job, mill, typed->finish.value, "choice.finish_tool", faults, &mill->finish);
}

hw_status hw_mill_read(hw_job *job, hw_bytes json, hw_arena *into, hw_mill *out, hw_faults *faults)
{
    hw_mill mill = {0};
    typed_mill *typed = NULL;
    HW_ALLOC(job, into, typed, 1);
    HW_TRY(read_all(job, hw_mill_table(), into, typed, faults));
    if (json.count > 0) HW_TRY(read_all(job, json, into, typed, faults));
    mill.machine = machine_of(&typed->machine);
    mill.block_count = typed->block_count, mill.tool_count = typed->tool_count;
    for (int i = 0; i < mill.block_count; i++) mill.blocks[i] = block_of(&typed->blocks[i]);
    for (int i = 0; i < mill.tool_count; i++) mill.tools[i] = tool_of(&typed->tools[i]);
    HW_TRY(choose(job, &typed->choice, &mill, faults));
    HW_TRY(hw_faults_status(job, faults));
    *out = mill;
    return HW_OK;
}
