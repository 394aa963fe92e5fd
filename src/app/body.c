// SPDX-License-Identifier: GPL-3.0-or-later
#include "body.h"

#include <string.h>

const char *body_text(const hw_json *object, const char *key)
{
    return hw_json_text_at(object, key, NULL);
}

hw_maybe body_number(const hw_json *object, const char *key)
{
    const hw_json *value = hw_json_get(object, key);
    return value && value->kind == HW_JSON_NUMBER ? hw_known(value->number) : (hw_maybe){0};
}

hw_date body_date(const hw_json *object, const char *key)
{
    char day[HW_DATE_TEXT] = {0};
    hw_date date = {0};
    const char *text = body_text(object, key);
    for (int i = 0; text && text[i] && i < HW_DATE_TEXT - 1; i++) day[i] = text[i];
    return hw_date_parse(day, &date) ? date : (hw_date){0};
}

hw_side body_side(const hw_json *object)
{
    const char *foot = body_text(object, "foot");
    if (foot && hw_text_same(foot, "left")) return HW_SIDE_LEFT;
    return foot && hw_text_same(foot, "right") ? HW_SIDE_RIGHT : HW_SIDE_UNKNOWN;
}
