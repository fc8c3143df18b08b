// SPDX-License-Identifier: Apache-2.0
#include "light/sky/sunlight_draw.h"

#include <setjmp.h>
#include <cmocka.h>

#include "light/sky/check_priv.h"

// A day with two spells of sun, or none.
static void make_day(struct pc_sunlight *day, int spells)
{
    double from_s = utc_s(2027, 3, 17, 23, 0, 0);
    memset(day, 0, sizeof *day);
    day->table.count = spells;
    day->table.spell[0] = (struct pc_spell){from_s + 36600.0, from_s + 56700.0, 300.0, 300.0};
    day->table.spell[1] = (struct pc_spell){from_s + 63960.0, from_s + 64800.0, 300.0, 300.0};
    if (spells > 0) {
        day->hero.count = 1;
        day->hero.spell[0] = (struct pc_spell){from_s + 42390.0, from_s + 56570.0, 300.0, 300.0};
    }
    for (int i = 0; i < PC_SUNLIGHT_ROWS; i++) {
        struct pc_sunlight_row *row = &day->row[i];
        row->at_s = from_s + i * PC_SUNLIGHT_STEP_S;
        for (int k = 0; k < spells; k++)
            if (row->at_s > day->table.spell[k].from_s && row->at_s < day->table.spell[k].to_s)
                row->share_ratio = k == 0 ? 0.8 : 0.1;
    }
}

static const char *drawn(struct pc_arena *arena, const struct pc_sunlight *day, size_t *count)
{
    struct pc_draw *draw;
    const char *bytes;
    assert_int_equal(pc_draw_create(PC_DRAW_SVG, PC_SUNLIGHT_DRAW_WIDTH_MM, PC_SUNLIGHT_DRAW_HEIGHT_MM, "sun",
                                    &draw, NULL),
                     PC_OK);
    pc_sunlight_draw(draw, day, 3600.0, "Harbour kitchen, 18 March 2027");
    assert_int_equal(pc_draw_finish(draw, arena, &bytes, count, NULL), PC_OK);
    pc_draw_destroy(draw);
    return bytes;
}

static void a_day_is_drawn_and_always_alike(void **state)
{
    (void)state;
    struct pc_arena *arena = pc_arena_create();
    struct pc_sunlight *day = PC_NEW(arena, struct pc_sunlight);
    size_t with, again, without;
    make_day(day, 2);
    const char *first = drawn(arena, day, &with), *second = drawn(arena, day, &again);
    assert_true(with == again && memcmp(first, second, with) == 0);
    make_day(day, 0);
    const char *none = drawn(arena, day, &without);
    assert_true(without < with && memcmp(none, "<?xml", 5) == 0);
    pc_arena_destroy(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_day_is_drawn_and_always_alike),
    };
    return cmocka_run_group_tests_name("sunlight drawn", tests, NULL, NULL);
}
