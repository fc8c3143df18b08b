// SPDX-License-Identifier: Apache-2.0
// The keys of lamps and flashes. base/keys.h tells how to add one.
#include "light/kit/class.h"
#include "light/kit/kit_priv.h"
#include "light/kit/within_priv.h"

static const char *check_lamp(const void *object)
{
    const struct pc_lamp *lamp = object;
    return lamp->kelvin_K[0] > lamp->kelvin_K[1] ? "\"kelvin_K\" has the warmest first; change them about."
                                                 : NULL;
}

static const struct pc_key lamp_rows[] = {
    {.key = "name", TEXT(struct pc_lamp, name), .or_else = "lamp 1, lamp 2, ...", .help = "what you call it"},
    {.key = "class",
     ONE_OF(struct pc_lamp, lamp_class),
     .names = pc_lamp_class_names,
     .otherwise = "panel",
     .help = "what kind it is; fills in what is left out below"},
    {.key = "size_cm",
     PAIR(struct pc_lamp, size_m),
     .unit = "cm",
     .si_per_unit = 0.01,
     .least = 0.1,
     .most = 500,
     .within = 1,
     .otherwise = "[30, 30]",
     .otherwise_within = 20,
     .help = "what shines, width and height"},
    {.key = "power_W",
     FIGURE(struct pc_lamp, power_W),
     .unit = "W",
     .least = 0,
     .most = 20000,
     .within_pct = LABEL_PCT,
     .otherwise = "60",
     .otherwise_within = 40,
     .help = "from the socket at full dial"},
    {.key = "kelvin_K",
     PAIR_PLAIN(struct pc_lamp, kelvin_K),
     .unit = "K",
     .least = 1000,
     .most = 40000,
     .or_else = "as its class",
     .help = "warmest and coolest setting; twice the same for one colour"},
    {.key = "at_1m_lx",
     FIGURE(struct pc_lamp, at_1m_lx),
     .unit = "lx",
     .least = 1,
     .most = 1e7,
     .within_pct = 10,
     .or_else = "by its class, for each watt",
     .help = "on its axis at 1 m, full dial, middle of its kelvin range"},
    {.key = "output_pct",
     NUMBER(struct pc_lamp, output_ratio),
     .unit = "%",
     .si_per_unit = 0.01,
     .least = 1,
     .most = 200,
     .otherwise = "100",
     .help = "what this one gives of at_1m_lx, if it has aged"},
    {.key = "off_K",
     NUMBER(struct pc_lamp, off_K),
     .unit = "K",
     .least = -3000,
     .most = 3000,
     .otherwise = "0",
     .help = "the kelvin it gives less the kelvin it shows; negative is warmer"},
    {.key = "barn_doors", YES_NO(struct pc_lamp, barn_doors), .otherwise = "false", .help = "it has them"},
    {.key = "sheet",
     TEXT(struct pc_lamp, sheet),
     .or_else = "no sheet",
     .help = "file name of its lamp sheet, beside this file"},
};

const struct pc_keys pc_lamp_keys = {
    "lamp", sizeof(struct pc_lamp), lamp_rows, PC_COUNT(lamp_rows), "name", check_lamp};

static const struct pc_key flash_rows[] = {
    {.key = "name",
     TEXT(struct pc_flash, name),
     .or_else = "flash 1, flash 2, ...",
     .help = "what you call it"},
    {.key = "size_cm",
     PAIR(struct pc_flash, size_m),
     .unit = "cm",
     .si_per_unit = 0.01,
     .least = 1,
     .most = 500,
     .within = 2,
     .otherwise = "[60, 60]",
     .otherwise_within = 30,
     .help = "soft box or bowl in front of it"},
    {.key = "energy_J",
     NUMBER(struct pc_flash, energy_J),
     .unit = "J",
     .least = 1,
     .most = 10000,
     .help = "at full power"},
    {.key = "f_at_1m",
     FIGURE(struct pc_flash, f_at_1m),
     .least = 0.7,
     .most = 256,
     .within_pct = 10,
     .help = "f-number that full power wants at 1 m and ISO 100"},
    {.key = "power_W",
     NUMBER(struct pc_flash, power_W),
     .unit = "W",
     .least = 0,
     .most = 5000,
     .otherwise = "0",
     .help = "from the socket while it charges; 0: battery"},
};

const struct pc_keys pc_flash_keys = {
    "flash", sizeof(struct pc_flash), flash_rows, PC_COUNT(flash_rows), "name", NULL};
