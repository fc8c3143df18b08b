// SPDX-License-Identifier: Apache-2.0
#include "image/picture/spread.h"

#include <setjmp.h>
#include <cmocka.h>

static void near(double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("got %.12g, want %.12g within %g", got, want, within);
}

// Closed form: of levels evenly spread from 0 to 1, a share q lies below q.
static void a_ramp_has_the_levels_of_its_shares(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    struct pc_picture picture;
    assert_int_equal(pc_picture_init(&ctx, &picture, 1000, 1, 3, NULL), PC_OK);
    for (int x = 0; x < 1000; x++)
        for (int c = 0; c < 3; c++)
            picture.px[3 * x + c] = (float)((c == 1 ? (x * 7) % 1000 : x) + 0.5) / 1000.0f;
    static const double shares[] = {0.01, 0.1, 0.5, 0.9, 0.99};
    for (size_t i = 0; i < PC_COUNT(shares); i++)
        for (int c = 0; c < 3; c++)
            near(pc_picture_quantile(&picture, c, shares[i]), shares[i],
                 0.0075 * shares[i] + 0.0005); // 0.01 EV
    pc_picture_finish(&picture);
}

static void levels_beyond_the_range_are_cut(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    struct pc_picture picture;
    assert_int_equal(pc_picture_init(&ctx, &picture, 4, 1, 1, NULL), PC_OK);
    picture.px[0] = -1.0f;
    picture.px[1] = 0.0f;
    picture.px[2] = 0.25f;
    picture.px[3] = 9.0f;
    near(pc_picture_quantile(&picture, 0, 0), 0x1p-16, 1e-9);
    near(pc_picture_quantile(&picture, 0, 1), 2, 1e-9);
    near(pc_picture_quantile(&picture, 0, 0.75), 0.25, 0.002);
    pc_picture_finish(&picture);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_ramp_has_the_levels_of_its_shares),
        cmocka_unit_test(levels_beyond_the_range_are_cut),
    };
    return cmocka_run_group_tests_name("spread", tests, NULL, NULL);
}
