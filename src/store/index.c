// SPDX-License-Identifier: GPL-3.0-or-later
// The index: the newest version of each record, found by name; built when the store is opened and
// kept in memory only, so that nothing to search by stands in the database.
#include "store/store_internal.h"
#include "json/json.h"

#include <limits.h>
#include <stdlib.h>

// FNV-1a, for places in the table only
static unsigned slot_hash(const char *kind, const char *id)
{
    unsigned hash = 2166136261u;
    for (; *kind; kind++) hash = (hash ^ (unsigned char)*kind) * 16777619u;
    hash = (hash ^ '|') * 16777619u;
    for (; *id; id++) hash = (hash ^ (unsigned char)*id) * 16777619u;
    return hash;
}

static int *slot_of(const hw_index *index, const char *kind, const char *id)
{
    unsigned mask = (unsigned)index->slot_count - 1;
    for (unsigned at = slot_hash(kind, id) & mask;; at = (at + 1) & mask) {
        int *slot = &index->slots[at];
        if (*slot == 0) return slot;
        const hw_item *item = &index->items[*slot - 1];
        if (strcmp(item->id, id) == 0 && strcmp(item->kind, kind) == 0) return slot;
    }
}

hw_item *hw_index_find(const hw_index *index, const char *kind, const char *id)
{
    if (index->slot_count == 0) return NULL;
    int slot = *slot_of(index, kind, id);
    return slot ? &index->items[slot - 1] : NULL;
}

static hw_status grow(hw_job *job, hw_index *index)
{
    if (index->count < index->capacity) return HW_OK;
    int capacity = index->capacity ? 2 * index->capacity : 64;
    hw_item *items = NULL;
    int *slots = NULL;
    if (capacity < INT_MAX / 4) {
        items = realloc(index->items, sizeof *items * (size_t)capacity);
        if (items) index->items = items;
        slots = calloc((size_t)capacity * 2, sizeof *slots);
    }
    if (!items || !slots) {
        free(slots);
        return hw_fail(job, HW_NO_MEMORY, "no memory for the index of %d records", index->count);
    }
    free(index->slots);
    index->slots = slots;
    index->slot_count = 2 * capacity;
    index->capacity = capacity;
    for (int i = 0; i < index->count; i++)
        *slot_of(index, index->items[i].kind, index->items[i].id) = i + 1;
    return HW_OK;
}

static void forget_key(hw_item *item)
{
    if (!item->key) return;
    hw_seal_wipe(item->key, sizeof *item->key);
    free(item->key);
    item->key = NULL;
}

static void forget_search(hw_item *item)
{
    if (!item->search) return;
    hw_seal_wipe(item->search, strlen(item->search));
    free(item->search);
    item->search = NULL;
}

static void copy_short(char *to, size_t size, const char *from)
{
    HW_ASSERT(strlen(from) < size); // the caller has looked
    memcpy(to, from, strlen(from) + 1);
}

// Files and jobs are looked up in the database when needed: there are too many of them.
static bool is_kept(const hw_entry *entry)
{
    return strcmp(entry->kind, HW_KIND_FILE) != 0 && strcmp(entry->kind, HW_KIND_JOB) != 0 &&
           strlen(entry->kind) < HW_STORE_KIND && strlen(entry->id) < HW_STORE_ID &&
           strlen(entry->person) < HW_STORE_ID && strlen(entry->owner) < HW_STORE_ID;
}

static void forget_person(hw_index *index, const char *person)
{
    hw_item *key = hw_index_find(index, HW_KIND_KEY, person);
    hw_item *item = hw_index_find(index, "person", person);
    if (key) forget_key(key);
    if (item) forget_search(item);
}

hw_status hw_index_note(hw_job *job, hw_index *index, const hw_entry *entry)
{
    if (!is_kept(entry)) return HW_OK;
    hw_item *item = hw_index_find(index, entry->kind, entry->id);
    if (!item) {
        HW_TRY(grow(job, index));
        item = &index->items[index->count];
        *item = (hw_item){0};
        copy_short(item->kind, sizeof item->kind, entry->kind);
        copy_short(item->id, sizeof item->id, entry->id);
        copy_short(item->person, sizeof item->person, entry->person);
        copy_short(item->owner, sizeof item->owner, entry->owner);
        *slot_of(index, item->kind, item->id) = ++index->count;
    }
    item->version = entry->version;
    item->seq = entry->seq;
    item->at_ms = entry->at_ms;
    if (strcmp(entry->kind, HW_KIND_KEY) == 0 && entry->version > 1)
        forget_person(index, entry->id);
    return HW_OK;
}

void hw_index_free(hw_index *index)
{
    for (int i = 0; i < index->count; i++) {
        forget_key(&index->items[i]);
        forget_search(&index->items[i]);
    }
    free(index->items);
    free(index->slots);
    *index = (hw_index){0};
}

static hw_status set_search(hw_job *job, hw_item *item, const hw_json *root, hw_arena *scratch)
{
    const char *all = NULL, *folded = NULL;
    HW_TRY(hw_text_format(job, scratch, &all, "%s\n%s\n%s", hw_json_text_at(root, "name", ""),
                          hw_json_text_at(root, "code", ""), hw_json_text_at(root, "born", "")));
    HW_TRY(hw_index_fold(job, all, scratch, &folded));
    forget_search(item);
    size_t size = strlen(folded) + 1;
    item->search = malloc(size);
    if (!item->search) return hw_fail(job, HW_NO_MEMORY, "no memory for the search");
    memcpy(item->search, folded, size);
    return HW_OK;
}

hw_status hw_index_person(hw_job *job, hw_store *store, const hw_entry *entry)
{
    if (strcmp(entry->kind, "person") != 0 || strlen(entry->id) >= HW_STORE_ID) return HW_OK;
    hw_item *item = hw_index_find(&store->index, "person", entry->id);
    if (!item) return HW_OK; // its columns cannot be ours: the chain is broken here
    hw_scratch tmp = hw_scratch_begin(job, NULL);
    hw_content content;
    const hw_json *root = NULL;
    hw_status status = hw_entry_open_body(job, store, entry, tmp.arena, &content);
    if (status == HW_OK) status = hw_json_read(job, content.body, tmp.arena, &root);
    if (status == HW_OK) status = set_search(job, item, root, tmp.arena);
    hw_scratch_end(tmp);
    // erased later in the chain (its key is gone), or damaged: then it is not found by search
    return status == HW_NOT_FOUND || (store->is_damaged && status == HW_BAD_FORMAT) ? HW_OK
                                                                                    : status;
}

bool hw_index_matches(const hw_item *item, const char *text)
{
    if (!item->search) return false;
    const char *at = text;
    while (*at) {
        size_t length = strcspn(at, " \t\r\n");
        char word[128];
        if (length >= sizeof word) return false;
        memcpy(word, at, length);
        word[length] = '\0';
        if (!strstr(item->search, word)) return false;
        at += length;
        at += strspn(at, " \t\r\n");
    }
    return true;
}
