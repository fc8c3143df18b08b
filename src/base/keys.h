// SPDX-License-Identifier: Apache-2.0
// Short JSON files that people write by hand, read into structs by tables. A table has one row a key; the
// reader, the defaults, the error sentences and the reference in docs/ are all made from it.
//
// Every key may be left out. A key that no row has is refused at its line and column, with the nearest name
// that there is; so are a value of the wrong kind, one out of range, and a key written twice. null is as good
// as left out. Files are not trusted: size, depth, counts and lengths of text have limits.
//
// How to add a key
// 1. Add the field to the struct, in SI with its unit in the name; a figure with a tolerance has
//    FIELD_tolerance beside it.
// 2. Add the row. Its name carries the unit that people write it in. least and most are in that unit.
// 3. The test of its page in docs/ says that the reference is out of date, and leaves one that is not.
#ifndef PC_BASE_KEYS_H
#define PC_BASE_KEYS_H

#include "base/arena.h"

enum pc_key_kind {
    PC_KEY_NUMBER, // double
    PC_KEY_WHOLE,  // int
    PC_KEY_YES_NO, // bool; true or false
    PC_KEY_TEXT,   // const char *, in the arena; NULL when unknown
    PC_KEY_DATE,   // struct pc_date; "2027-03-18"; all 0 when unknown
    PC_KEY_PAIR,   // double[2]; [1.8, 1.3]
    PC_KEY_ONE_OF, // int, the place in names; -1 when unknown
    PC_KEY_PART,   // a struct of its own, in place; {...}
    PC_KEY_LIST,   // pointer to the first of count structs, in the arena; [{...}, ...]
};

struct pc_date {
    int year, month, day; // month and day from 1
};

struct pc_keys;

struct pc_key {
    const char *key;
    enum pc_key_kind kind;
    size_t offset;            // of the field
    size_t offset_count;      // LIST: of the size_t beside it
    size_t offset_within;     // NUMBER and PAIR: of the double that takes the tolerance; 0: has none
    const char *unit;         // for people: "m", "deg"; NULL: a plain number
    double si_per_unit;       // the field holds this times what the file says; 0: as the file says
    double least, most;       // in the file's unit, both ends included; LIST: most is the largest count
    const char *otherwise;    // what holds when it is left out, written as in the file; NULL: unknown (NAN)
    const char *or_else;      // what then holds, in words, where that is more than otherwise: "as its class"
    double within;            // the tolerance of a value that is given, in the file's unit
    double within_pct;        // the same as a share of the value; the larger of the two counts
    double otherwise_within;  // the tolerance of otherwise
    const char *const *names; // ONE_OF; ends with NULL
    const struct pc_keys *table; // PART and LIST
    const char *help;            // a phrase, no full stop
};

struct pc_keys {
    const char *noun; // "window": what one of these is called; also the name of one that has none: "window 2"
    size_t size_bytes; // of the struct
    const struct pc_key *rows;
    size_t count;
    const char *name_key; // the TEXT key that may not be the same for two of a list, or NULL
    // What is wrong between keys, as a sentence; NULL: nothing. May be NULL itself.
    const char *(*check)(const void *object);
};

enum { PC_KEYS_BYTES_MAX = 1 << 20, PC_KEYS_DEPTH_MAX = 8, PC_KEYS_TEXT_MAX = 200 };

// object takes what text says, and the defaults for the rest. place names the file in errors: the error's
// place is "FILE:line:column", both from 1, columns in characters. Texts and lists live in arena. On failure
// the object's contents are unspecified.
enum pc_status pc_keys_read(struct pc_arena *arena, const struct pc_keys *table, const char *text,
                            size_t count, const char *place, void *object, struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_keys_read_file(struct pc_arena *arena, const struct pc_keys *table, const char *path,
                                 void *object, struct pc_err *err) PC_MUST_CHECK;

// Every field as if nothing had been written.
void pc_keys_default(const struct pc_keys *table, void *object);

// The keys as Markdown tables: the table itself, then each that it contains, once.
char *pc_keys_reference(struct pc_arena *arena, const struct pc_keys *table);

#endif
