// SPDX-License-Identifier: Apache-2.0
#include "image/align/scene_test.h"

#include "base/units.h"

static uint64_t next(uint64_t *state) // splitmix64
{
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

double scene_uniform(uint64_t *state)
{
    return (double)(next(state) >> 11) * 0x1p-53;
}

double scene_gauss(uint64_t *state)
{
    double r = sqrt(-2.0 * log(1.0 - scene_uniform(state)));
    return r * cos(2.0 * PC_PI * scene_uniform(state));
}

static double between(uint64_t *state, double low, double high)
{
    return low + (high - low) * scene_uniform(state);
}

void scene_make(struct scene *scene, int width_px, int height_px, uint64_t seed)
{
    memset(scene, 0, sizeof *scene);
    uint64_t s = seed * 7919 + 17;
    scene->width_px = width_px;
    scene->height_px = height_px;
    double texture = between(&s, 0.08, 0.2);
    for (int i = 0; i < SCENE_WAVES; i++) {
        double length_px = 9.0 * pow(12.0, scene_uniform(&s)), angle = between(&s, 0, 2.0 * PC_PI);
        double k = 2.0 * PC_PI / length_px;
        scene->wave[i][0] = k * cos(angle);
        scene->wave[i][1] = k * sin(angle);
        scene->wave[i][2] = between(&s, 0, 2.0 * PC_PI);
        scene->wave[i][3] = texture * sqrt(2.0 / SCENE_WAVES);
    }
    for (int i = 0; i < SCENE_PLATES; i++) {
        scene->plate[i][0] = between(&s, -0.8, 0.8) * width_px;
        scene->plate[i][1] = between(&s, -0.8, 0.8) * height_px;
        scene->plate[i][2] = between(&s, 0.06, 0.2) * width_px;
    }
    scene->plate_albedo = between(&s, 0.5, 0.8);
    for (int i = 0; i < SCENE_LIGHTS; i++) {
        struct scene_light *l = &scene->light[i];
        double towards_rad = between(&s, 0, 2.0 * PC_PI);
        l->towards[0] = cos(towards_rad);
        l->towards[1] = sin(towards_rad);
        l->level = between(&s, 0.5, 1.2);
        l->slope_ratio = between(&s, 0.2, 0.7);
        l->soft_px = i == 0 ? between(&s, 50, 120) : between(&s, 3, 60); // a window, then panels
        l->reach_px = between(&s, 0.05, 0.2) * width_px;
        l->colour[0] = between(&s, 0.6, 1.2);
        l->colour[1] = 1.0;
        l->colour[2] = between(&s, 0.6, 1.2);
    }
}

void scene_add_napkin(struct scene *scene, double area_ratio, uint64_t seed)
{
    uint64_t s = seed * 104729 + 5;
    double area = area_ratio * 4.0 * scene->width_px * scene->height_px, shape = between(&s, 0.7, 1.5);
    scene->napkin_width_px = sqrt(area * shape);
    scene->napkin_height_px = area / scene->napkin_width_px;
    double room_x = scene->width_px - scene->napkin_width_px,
           room_y = scene->height_px - scene->napkin_height_px;
    scene->napkin_x_px = between(&s, -0.9, 0.9) * room_x;
    scene->napkin_y_px = between(&s, -0.9, 0.9) * room_y;
    scene->stripe_px = between(&s, 12, 40);
    scene->stripe_depth = between(&s, 0.2, 0.5);
    scene->napkin_albedo = between(&s, 0.35, 0.8);
    scene->napkin_turn_rad = between(&s, 0, PC_PI);
}

static double step(double x) // 0 to 1 about 0
{
    if (fabs(x) >= 10.0) // where tanh is 1 to the last bit
        return x > 0.0 ? 1.0 : 0.0;
    return 0.5 + 0.5 * tanh(2.0 * x);
}

static double light_at(const struct scene *scene, const struct scene_light *l, const struct scene_shot *shot,
                       double x, double y)
{
    double ux = l->towards[0], uy = l->towards[1];
    double level = l->level * (1.0 - l->slope_ratio * (x * ux + y * uy) / scene->width_px * 0.8);
    for (int i = 0; i < SCENE_PLATES; i++) {
        const double *p = scene->plate[i];
        double slide = l == &scene->light[0] ? shot->shadow_dx_px : 0.0;
        double dx = x - p[0] - (l->reach_px + slide) * ux, dy = y - p[1] - (l->reach_px + slide) * uy;
        double inside = step((p[2] - hypot(dx, dy)) / l->soft_px);
        double rx = x - p[0], ry = y - p[1], r = hypot(rx, ry) / p[2];
        double covers = step((1.0 - r) * p[2] / 3.0); // the plate itself stands in the light
        level *= 1.0 - 0.75 * inside * (1.0 - covers);
        // Its rim faces the light on one side.
        if (covers > 0.0)
            level *= 1.0 - 0.5 * covers * exp(-50.0 * (r - 0.85) * (r - 0.85)) * (rx * ux + ry * uy) / p[2];
    }
    return level > 0.02 ? level : 0.02;
}

static double albedo_at(const struct scene *scene, const struct scene_shot *shot, double x, double y,
                        double texture)
{
    double albedo = 0.3 * exp(texture);
    for (int i = 0; i < SCENE_PLATES; i++) {
        const double *p = scene->plate[i];
        double covers = step((p[2] - hypot(x - p[0], y - p[1])) / 3.0);
        if (covers > 0.0)
            albedo += covers * (scene->plate_albedo * exp(0.1 * texture) - albedo);
    }
    if (scene->napkin_width_px > 0.0) {
        double nx = x - scene->napkin_x_px - shot->napkin_dx_px,
               ny = y - scene->napkin_y_px - shot->napkin_dy_px;
        double covers = step((0.5 * scene->napkin_width_px - fabs(nx)) / 2.5) *
                        step((0.5 * scene->napkin_height_px - fabs(ny)) / 2.5);
        if (!(covers > 0.0))
            return albedo;
        double along = nx * cos(scene->napkin_turn_rad) + ny * sin(scene->napkin_turn_rad);
        double stripes = tanh(2.0 * sin(2.0 * PC_PI * along / scene->stripe_px));
        albedo += covers * (scene->napkin_albedo * (1.0 + scene->stripe_depth * stripes) - albedo);
    }
    return albedo;
}

// Along a row a wave's phase grows evenly: e^(i phase) is turned from pixel to pixel.
struct turn {
    double re, im, step_re, step_im;
};

static void begin_wave(const double wave[4], double x, double y, double step_x, double step_y,
                       struct turn *turn)
{
    double phase = wave[0] * x + wave[1] * y + wave[2], grow = wave[0] * step_x + wave[1] * step_y;
    *turn = (struct turn){cos(phase), sin(phase), cos(grow), sin(grow)};
}

static void shoot_row(const struct scene *scene, const struct scene_shot *shot, int row,
                      struct pc_picture *picture, uint64_t *noise)
{
    const struct pc_align *go = &shot->from_reference;
    double scale = go->scale_ratio, c = cos(go->rotation_rad) / scale, s = sin(go->rotation_rad) / scale;
    double cx = scene->width_px, cy = scene->height_px; // half of full resolution
    struct turn turn[SCENE_WAVES];
    for (int col = 0; col < scene->width_px; col++) {
        double ox = 2.0 * col + 1.0 - cx, oy = 2.0 * row + 1.0 - cy;
        double qx = ox - go->shift_x_px, qy = oy - go->shift_y_px;
        double x = c * qx + s * qy, y = -s * qx + c * qy;
        double texture = 0.0;
        for (int i = 0; i < SCENE_WAVES; i++) {
            if (col == 0)
                begin_wave(scene->wave[i], x, y, 2.0 * c, -2.0 * s, &turn[i]);
            texture += scene->wave[i][3] * turn[i].im;
            double re = turn[i].re;
            turn[i].re = re * turn[i].step_re - turn[i].im * turn[i].step_im;
            turn[i].im = re * turn[i].step_im + turn[i].im * turn[i].step_re;
        }
        double albedo = albedo_at(scene, shot, x, y, texture);
        double drift = 1.0 + shot->drift_x * ox / cx + shot->drift_y * oy / cy;
        double lens = 1.0 - shot->vignetting * (ox * ox + oy * oy) / (cx * cx + cy * cy);
        double light[3] = {0, 0, 0};
        for (int l = 0; l < SCENE_LIGHTS; l++)
            if (shot->weight[l] > 0.0) {
                double level = shot->weight[l] * light_at(scene, &scene->light[l], shot, x, y);
                for (int k = 0; k < 3; k++)
                    light[k] += level * scene->light[l].colour[k];
            }
        for (int k = 0; k < 3; k++) {
            double value = 0.25 * albedo * light[k] * drift * lens;
            if (shot->snr > 0.0) {
                double var = (picture->noise.offset_var[k] + picture->noise.per_signal_var[k] * value);
                value += sqrt(var / shot->noise_told) * scene_gauss(noise);
            }
            size_t at = (size_t)row * (size_t)scene->width_px + (size_t)col;
            if (value > 1.0) {
                value = 1.0;
                picture->clipped[at] |= (uint8_t)(1u << k);
            }
            picture->px[3 * at + (size_t)k] = (float)value;
        }
    }
}

void scene_shoot(struct pc_ctx *ctx, const struct scene *scene, const struct scene_shot *shot,
                 struct pc_picture *picture)
{
    PC_ASSERT(pc_picture_init(ctx, picture, scene->width_px, scene->height_px, 3, NULL) == PC_OK);
    picture->bin = 2;
    picture->full_width_px = 2 * scene->width_px;
    picture->full_height_px = 2 * scene->height_px;
    picture->space = PC_SPACE_CAMERA;
    struct scene_shot told = *shot;
    told.noise_told = shot->noise_told > 0.0 ? shot->noise_told : 1.0;
    told.from_reference.scale_ratio =
        shot->from_reference.scale_ratio > 0.0 ? shot->from_reference.scale_ratio : 1.0;
    double typical = 0.08;
    for (int k = 0; shot->snr > 0.0 && k < 3; k++) {
        double var = told.noise_told * typical * typical / (shot->snr * shot->snr);
        double read = shot->read_ratio * shot->read_ratio;
        picture->noise.offset_var[k] = var * read / (1.0 + read);
        picture->noise.per_signal_var[k] = var / (1.0 + read) / typical;
    }
    uint64_t noise = shot->seed * 31 + 1;
    for (int row = 0; row < scene->height_px; row++)
        shoot_row(scene, &told, row, picture, &noise);
}

double scene_misplaced_px(const struct pc_align *got, const struct pc_align *want, double width_px,
                          double height_px)
{
    double most = 0.0;
    const struct pc_align *both[2] = {got, want};
    for (int corner = 0; corner < 4; corner++) {
        double x = (corner & 1 ? 0.5 : -0.5) * width_px, y = (corner & 2 ? 0.5 : -0.5) * height_px, at[2][2];
        for (int k = 0; k < 2; k++) {
            double a = both[k]->scale_ratio * cos(both[k]->rotation_rad);
            double b = both[k]->scale_ratio * sin(both[k]->rotation_rad);
            at[k][0] = a * x - b * y + both[k]->shift_x_px;
            at[k][1] = b * x + a * y + both[k]->shift_y_px;
        }
        double far = hypot(at[0][0] - at[1][0], at[0][1] - at[1][1]);
        most = far > most ? far : most;
    }
    return most;
}
