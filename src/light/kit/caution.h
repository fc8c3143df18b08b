// SPDX-License-Identifier: Apache-2.0
// The usual cautions, as data, to stand beside an answer whose use can hurt someone. None of them permits
// anything: local codes, the maker's instructions and licensed people come first, and each says so.
#ifndef PC_LIGHT_KIT_CAUTION_H
#define PC_LIGHT_KIT_CAUTION_H

#include "base/err.h"

// How to add one: a constant here, its row in caution.c. The test looks for the deferring words.
enum pc_caution {
    PC_CAUTION_CIRCUIT,      // loads on one circuit
    PC_CAUTION_WATER,        // mains near sinks, steam and pouring
    PC_CAUTION_CABLE,        // cables on the floor, reels
    PC_CAUTION_ARM,          // a camera or lamp on an arm over the table
    PC_CAUTION_STAND,        // a stand loaded off its middle
    PC_CAUTION_TRESTLE,      // a board on low trestles
    PC_CAUTION_LADDER,       // working above the table
    PC_CAUTION_HOT_LAMP,     // tungsten near paper, gel, cloth
    PC_CAUTION_BRIGHT_PANEL, // looking into panels
    PC_CAUTION_FLICKER,      // strobing and dimmer tests
    PC_CAUTION_SUN,          // direct sun into a lens or an eye
    PC_CAUTION_WINDOW,       // opening, blinding and climbing at windows
    PC_CAUTION_FOOD_TIME,    // food out of control of its temperature
    PC_CAUTION_NOT_FOOD,     // styled food that nobody may eat
    PC_CAUTION_ALLERGENS,
    PC_CAUTION_COUNT
};

// One or two sentences that begin with a capital and end with a full stop; never NULL.
const char *pc_caution_text(enum pc_caution caution);
// "circuit": the name of the caution for programs.
const char *pc_caution_key(enum pc_caution caution);
// Where the figure or the rule in it comes from, for docs.
const char *pc_caution_source(enum pc_caution caution);

#endif
