// SPDX-License-Identifier: Apache-2.0
// The recce's circuit, arm and lamps of the house.
#include "light/kit/class.h"
#include "shoot/advise/recce_priv.h"

#define GRAVITY_M_S2       9.81
#define SANDBAG_BACK_M     0.40 // behind the stand's middle
#define TIPPING_FACTOR     1.5
#define LONG_LOAD_RATIO    0.8 // of a breaker, for loads of hours (NEC 210.19, 210.20; other codes differ)
#define ASSUMED_LIMIT_A    10.0
#define ASSUMED_KETTLE_W   2200.0
#define ASSUMED_KETTLE_OFF 800.0

enum { LOADS_TOLD_MAX = 6 };

static void add_W(struct pc_range *sum, double power_W, double tolerance_W, int count)
{
    struct pc_range one = recce_around(power_W, tolerance_W, 0);
    sum->low += count * one.low;
    sum->high += count * one.high;
}

struct pc_range pc_recce_load_W(const struct pc_circuit *circuit, const struct pc_kit *kit)
{
    struct pc_range sum = {0, 0};
    for (size_t i = 0; i < circuit->load_count; i++)
        add_W(&sum, circuit->loads[i].power_W, circuit->loads[i].power_W_tolerance, circuit->loads[i].count);
    if (!circuit->for_lamps)
        return sum;
    for (size_t i = 0; i < kit->lamp_count; i++)
        add_W(&sum, kit->lamps[i].power_W, kit->lamps[i].power_W_tolerance, 1);
    for (size_t i = 0; i < kit->flash_count; i++)
        add_W(&sum, kit->flashes[i].power_W, 0, 1);
    return sum;
}

static const struct pc_circuit *lamps_circuit(const struct pc_site *site)
{
    for (size_t i = 0; i < site->circuit_count; i++)
        if (site->circuits[i].for_lamps)
            return &site->circuits[i];
    return NULL;
}

void recce_circuit(struct recce_work *work)
{
    const struct pc_site *site = work->wish->site;
    struct pc_load kettle = {"kettle", ASSUMED_KETTLE_W, ASSUMED_KETTLE_OFF, 1};
    struct pc_circuit assumed = {"kitchen", ASSUMED_LIMIT_A, true, &kettle, 1};
    const struct pc_circuit *circuit = lamps_circuit(site);
    bool told = circuit != NULL;
    if (!told)
        circuit = &assumed;
    struct pc_range load_W = pc_recce_load_W(circuit, work->wish->kit),
                    volts = recce_around(site->mains_V, site->mains_V_tolerance, 1);
    double limit_W = circuit->limit_A * site->mains_V;
    struct pc_recce_finding *finding =
        recce_add(work, "circuit",
                  load_W.high <= LONG_LOAD_RATIO * circuit->limit_A * volts.low ? PC_VERDICT_CAN
                  : load_W.low > circuit->limit_A * volts.high                  ? PC_VERDICT_CANNOT
                                                                                : PC_VERDICT_PERHAPS);
    finding->range = load_W;
    finding->unit = "W";
    finding->limit = "circuit";
    finding->caution = PC_CAUTION_CIRCUIT;
    if (!told) {
        finding->sentence = pc_arena_printf(work->arena,
                                            "What the sockets can carry was not said: of the %.0f W that "
                                            "%.0f A give, your lamps and a kettle want %s; ask what "
                                            "stands on the breaker.",
                                            limit_W, circuit->limit_A, recce_range(work->arena, load_W));
        return;
    }
    const char *names[LOADS_TOLD_MAX + 1];
    size_t count = 0;
    for (size_t i = 0; i < circuit->load_count && count < LOADS_TOLD_MAX; i++)
        names[count++] = circuit->loads[i].name;
    names[count++] = "your lamps";
    static const char *const said[] = {
        [PC_VERDICT_CAN] = "that leaves a fifth and more of it free",
        [PC_VERDICT_PERHAPS] = "that is more than four fifths of it, within what is known: nothing else on "
                               "it, and not for hours",
        [PC_VERDICT_CANNOT] = "that trips it: plug the lamps in elsewhere",
    };
    finding->sentence = pc_arena_printf(
        work->arena, "The %s circuit, %.0f A at %.0f V or %.1f kW, has to carry %s, %s W together; %s.",
        circuit->name, circuit->limit_A, site->mains_V, limit_W / 1000, recce_join(work->arena, names, count),
        recce_range(work->arena, load_W), said[finding->verdict]);
}

void recce_arm(struct recce_work *work)
{
    const struct pc_kit *kit = work->wish->kit;
    if (kit->arm_count == 0 || kit->camera_count == 0)
        return;
    const struct pc_camera *heaviest = &kit->cameras[0];
    for (size_t i = 1; i < kit->camera_count; i++)
        if (kit->cameras[i].mass_kg > heaviest->mass_kg)
            heaviest = &kit->cameras[i];
    const struct pc_arm *arm = &kit->arms[0];
    struct pc_range camera_kg = recce_around(heaviest->mass_kg, heaviest->mass_kg_tolerance, 0),
                    arm_kg = recce_around(arm->mass_kg, arm->mass_kg_tolerance, 0),
                    length_m = recce_around(arm->length_m, arm->length_m_tolerance, 0);
    // The camera at its end, the arm's own weight half way.
    struct pc_range moment_N_m = {GRAVITY_M_S2 * length_m.low * (camera_kg.low + arm_kg.low / 2),
                                  GRAVITY_M_S2 * length_m.high * (camera_kg.high + arm_kg.high / 2)};
    double bag_kg = TIPPING_FACTOR * moment_N_m.high / GRAVITY_M_S2 / SANDBAG_BACK_M;
    bool over = !isnan(arm->holds_kg) && camera_kg.low > arm->holds_kg;
    struct pc_recce_finding *finding =
        recce_add(work, "arm",
                  over                                                     ? PC_VERDICT_CANNOT
                  : isnan(arm->holds_kg) || camera_kg.high > arm->holds_kg ? PC_VERDICT_PERHAPS
                                                                           : PC_VERDICT_CAN);
    finding->range = moment_N_m;
    finding->unit = "N m";
    finding->limit = "arm";
    finding->caution = PC_CAUTION_ARM;
    finding->sentence =
        over ? pc_arena_printf(work->arena, "%s is heavier than the %s may hold, %.1f kg.", heaviest->name,
                               arm->name, arm->holds_kg)
             : pc_arena_printf(
                   work->arena,
                   "%s at the end of the %s, drawn out to %.0f cm, pulls at its stand with %s N m: one and "
                   "a half times that is a sandbag of %.0f kg, %.0f cm behind the stand's middle%s.",
                   heaviest->name, arm->name, 100 * arm->length_m, recce_range(work->arena, moment_N_m),
                   ceil(bag_kg), 100 * SANDBAG_BACK_M,
                   isnan(arm->holds_kg) ? "; look up what the arm may hold" : "");
}

void recce_pendants(struct recce_work *work)
{
    const struct pc_site *site = work->wish->site;
    for (size_t i = 0; i < site->pendant_count && i < 2; i++) {
        const struct pc_pendant *pendant = &site->pendants[i];
        struct pc_recce_finding *finding = recce_add(work, "pendant", PC_VERDICT_CANNOT);
        double hz = isnan(pendant->ripple_hz) ? 2 * site->mains_hz : pendant->ripple_hz;
        finding->range = recce_around(pendant->kelvin_K, pendant->kelvin_K_tolerance, 1000);
        finding->unit = "K";
        finding->limit = "pendant";
        finding->sentence = pc_arena_printf(work->arena,
                                            "The %s has to stay off, and everybody has to know: it is %.0f "
                                            "K, and swells %.0f times a second.",
                                            pendant->name, pendant->kelvin_K, hz);
    }
}
