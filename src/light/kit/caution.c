// SPDX-License-Identifier: Apache-2.0
#include "light/kit/caution.h"

struct row {
    const char *key, *text, *source;
};

static const struct row rows[] = {
    [PC_CAUTION_CIRCUIT] =
        {"circuit",
         "Watts are added up from labels, and what else hangs on a breaker is only known to those who know "
         "the "
         "house: ask them, keep well under its rating for anything that runs for hours, and leave wiring, "
         "local "
         "codes and whatever trips twice to a licensed electrician.",
         "US practice keeps a load of three hours or more to 80 % of the breaker (NEC 210.19, 210.20); other "
         "countries' rules differ"},
    [PC_CAUTION_WATER] =
        {"water",
         "Mains near sinks, steam and pouring hands wants a residual-current device in the circuit, drip "
         "loops "
         "in the cables and connectors off the floor; local codes and a licensed electrician say which.",
         "usual trip currents: 30 mA (RCD), 5 mA (GFCI)"},
    [PC_CAUTION_CABLE] = {"cable",
                          "Tape cables down flat, never under a rug, and unwind a reel to its end before it "
                          "carries lamps; the "
                          "rating on the reel, its maker's instructions and local codes set the limit.",
                          "wound reels heat; their wound and unwound ratings stand on them"},
    [PC_CAUTION_ARM] =
        {"arm",
         "Tie anything over the table by a second line that would hold it alone, weigh the stand's foot "
         "down, "
         "and keep people and plates out from under it while it is moved; what arm and stand may carry is in "
         "their makers' instructions.",
         "moments about the leg line; a tripod tips over its weakest side at half its foot radius"},
    [PC_CAUTION_STAND] =
        {"stand",
         "A stand with its load to one side tips over the gap between two legs: put the load over a leg, a "
         "sandbag on the leg across, and heed the load in the maker's instructions.",
         "restoring moment at least 1.5 to 2 times the overturning one, tip radius half the foot radius"},
    [PC_CAUTION_TRESTLE] = {"trestle",
                            "A board on trestles slides and tips when it is leant on: clamp it, and keep "
                            "within the load that the "
                            "trestles' maker gives.",
                            "common practice"},
    [PC_CAUTION_LADDER] =
        {"ladder",
         "Work above the table from a ladder that stands level, three points of you on it, never from its "
         "top "
         "step or a chair; local rules for work at height and the ladder's own label come first.",
         "three points of contact, 1 in 4 for a leaning ladder"},
    [PC_CAUTION_HOT_LAMP] =
        {"hot-lamp",
         "A hot lamp sets paper, gel and cloth alight from near by and warms the food under it: keep the "
         "distance that its maker gives, or a metre where none is given, and let it cool before it is "
         "touched.",
         "tungsten: envelope over 250 degrees C, housing over 100; half a metre to a metre is the usual "
         "distance (from memory, check the label)"},
    [PC_CAUTION_BRIGHT_PANEL] =
        {"bright-panel",
         "Nobody should stare into a bright panel; the group on its label (IEC 62471) and its maker's "
         "instructions say from how near it matters.",
         "IEC 62471 risk groups"},
    [PC_CAUTION_FLICKER] =
        {"flicker",
         "Light that flashes from 3 to 70 times a second can bring on a seizure: ask everybody in the place, "
         "and warn them, before a strobe or dimmer is tried; their doctors' advice comes first.",
         "frequencies as in IEEE 1789-2015"},
    [PC_CAUTION_SUN] =
        {"sun",
         "Do not look at the sun through a lens, and do not leave one pointed at it: it harms eyes and "
         "sensors, and a lens in the sun can set a table alight; heed the makers' instructions.",
         "common practice"},
    [PC_CAUTION_WINDOW] =
        {"window",
         "Cover a window from inside, with both feet on the floor; ask the house before anything is fixed to "
         "it, and leave ways out free as local fire rules want.",
         "common practice"},
    [PC_CAUTION_FOOD_TIME] =
        {"food-time",
         "Food that anybody will eat has a clock that starts when it leaves the cold or the heat, not at the "
         "first frame, and chilling again does not set it back; the cook and local food rules say how long. "
         "In one country it is two hours from 4 to 60 degrees C, one hour above 32.",
         "USDA advice to consumers, 40 to 140 F; FDA Food Code 3-501.19 and other countries' rules differ"},
    [PC_CAUTION_NOT_FOOD] = {"not-food",
                             "Whatever was glued, torched raw, sprayed or kept out too long gets a label, "
                             "not for eating, and goes "
                             "where nobody eats it, as the cook and local food rules say.",
                             "common practice"},
    [PC_CAUTION_ALLERGENS] = {"allergens",
                              "Write down what is on the set that somebody may not touch or eat, latex among "
                              "it, and keep boards and "
                              "gloves apart; local rules list the allergens, and the cook has the last word.",
                              "14 listed in the EU and UK, 9 in the US (from memory)"},
};
_Static_assert(PC_COUNT(rows) == PC_CAUTION_COUNT, "each caution has its row");

static const struct row *row_of(enum pc_caution caution)
{
    PC_ASSERT(caution < PC_CAUTION_COUNT);
    return &rows[caution];
}

const char *pc_caution_text(enum pc_caution caution)
{
    return row_of(caution)->text;
}

const char *pc_caution_key(enum pc_caution caution)
{
    return row_of(caution)->key;
}

const char *pc_caution_source(enum pc_caution caution)
{
    return row_of(caution)->source;
}
