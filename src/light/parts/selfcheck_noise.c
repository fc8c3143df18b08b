// SPDX-License-Identifier: Apache-2.0
// Photon transfer from two frames of one setting (EMVA 1288).
#include "base/units.h"
#include "light/parts/selfcheck_priv.h"

static const double MID_GREY_RATIO = 0.18;
static const double EXCELLENT_SNR = 40.0; // ISO 12232: the first excellent picture
static const double WEIGHABLE_SNR = 20.0; // of a pixel that weighing is judged by
static const double STILL_PX = 0.15;      // frames that moved more than this show detail for noise
enum { GREENS = 2 };                      // sensor pixels in one green of a 2 x 2 bin

// The n-th pair of frames at one setting and shutter; those with a light on first, since they reach higher.
static bool find_pair(const struct pc_looks *kit, int n, int *a, int *b)
{
    for (int ambient = 0; ambient < 2; ambient++)
        for (*a = 0; *a < kit->series->frame_count; ++*a)
            for (*b = *a + 1; *b < kit->series->frame_count; ++*b) {
                bool wanted = (kit->series->frame[*a].role == PC_ROLE_AMBIENT) == (ambient == 1);
                if (wanted && pc_looks_same_setting(kit, *a, *b) && pc_looks_same_shutter(kit, *a, *b) &&
                    fabs(kit->look[*a].moved_px - kit->look[*b].moved_px) < STILL_PX && n-- == 0)
                    return true;
            }
    return false;
}

static void read_line(const struct pc_photo *photo, struct pc_selfcheck_noise *noise)
{
    const struct pc_picture *picture = &photo->picture;
    int green = picture->channels == 3 ? 1 : 0;
    noise->channels = picture->channels;
    for (int c = 0; c < picture->channels; c++) {
        double variance = picture->noise.offset_var[c] + picture->noise.per_signal_var[c] * MID_GREY_RATIO;
        noise->mid_grey_snr_ratio[c] = MID_GREY_RATIO / sqrt(variance);
    }
    // The level s at which s = SNR sqrt(offset + per s).
    double offset = picture->noise.offset_var[green], per = picture->noise.per_signal_var[green];
    double square = WEIGHABLE_SNR * WEIGHABLE_SNR;
    noise->weighable_ev =
        pc_ev_from_ratio(0.5 * (square * per + sqrt(pow(square * per, 2) + 4.0 * square * offset)));
    double range_dn = photo->white_dn - photo->black_dn;
    noise->has_electrons = photo->form == PC_FORM_RAW && picture->channels == 3 && picture->bin == 2 &&
                           range_dn > 0.0 && per > 0.0;
    if (!noise->has_electrons)
        return;
    noise->gain_dn_per_e = GREENS * per * range_dn;
    noise->saturation_e = range_dn / noise->gain_dn_per_e;
    noise->read_noise_e = sqrt(GREENS * offset) * noise->saturation_e;
}

static enum pc_status try_pair(struct pc_looks *kit, int a, int b, bool *told, struct pc_err *err)
{
    struct pc_photo one, two;
    const struct pc_series *series = kit->series;
    PC_TRY(pc_photo_read(kit->reader, series->frame[a].path, PC_WANT_MEASURE, series->linear, &one, err));
    enum pc_status status =
        pc_photo_read(kit->reader, series->frame[b].path, PC_WANT_MEASURE, series->linear, &two, err);
    if (status == PC_OK) {
        *told = pc_picture_noise_from_pair(&one.picture, &two.picture);
        int green = one.picture.channels == 3 ? 1 : 0;
        *told = *told && one.picture.noise.per_signal_var[green] > 0.0;
        if (*told) {
            kit->check->noise.frame = a;
            kit->check->noise.again = b;
            read_line(&one, &kit->check->noise);
        }
        pc_photo_finish(&two);
    }
    pc_photo_finish(&one);
    return status;
}

enum pc_status pc_selfcheck_noise(struct pc_looks *kit, struct pc_err *err)
{
    struct pc_selfcheck_noise *noise = &kit->check->noise;
    bool told = false;
    int a, b;
    enum { TRIES = 3 };
    noise->frame = noise->again = -1;
    for (int n = 0; n < TRIES && !told && find_pair(kit, n, &a, &b); n++)
        PC_TRY(try_pair(kit, a, b, &told, err));
    if (!told)
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_NOISE, PC_SELFCHECK_NOT_TESTED,
            "Photograph one setting twice at the same shutter with nothing touched in between.");
    else if (noise->mid_grey_snr_ratio[noise->channels == 3 ? 1 : 0] < EXCELLENT_SNR)
        pc_selfcheck_judge(kit, PC_SELFCHECK_NOISE, PC_SELFCHECK_OFF,
                           "Use a lower ISO and a longer shutter for a set.");
    else
        pc_selfcheck_judge(kit, PC_SELFCHECK_NOISE, PC_SELFCHECK_GOOD, "%s", "");
    return PC_OK;
}
