// SPDX-License-Identifier: Apache-2.0
// Everything that tells a person or a shell which verbs and options there are, made from the verbs' tables.
#include "front/cli/cli.h"

#include "front/cli/print.h"

static const char *const purpose = "platecall measures the light on a table from raw frames, one for each "
                                   "light, and answers in dial settings.";

static const char *const hours[PC_HOUR_COUNT] = {
    [PC_HOUR_RECCE] = "Before the day, at the place or from afar",
    [PC_HOUR_SETUP] = "While lighting the stand-in",
    [PC_HOUR_PLATE] = "With the plate on the table",
    [PC_HOUR_AFTER] = "In the evening and after",
    [PC_HOUR_KIT] = "Once, with your own kit",
};

static const char *const endings[][2] = {
    {"0", "done"},
    {"1", "failed: a sentence on stderr says what, where, and what to do"},
    {"2", "the command line was not understood"},
};

void pc_help_program(FILE *out)
{
    pc_print_wrapped(out, 0, 0, purpose);
    fputs("\n  platecall VERB [OPTION...] [FILE...]\n", out);
    for (int hour = 0; hour < PC_HOUR_COUNT; hour++) {
        bool begun = false;
        for (size_t i = 0; i < pc_verb_count; i++) {
            if (pc_verbs[i]->hour != (enum pc_hour)hour)
                continue;
            if (!begun)
                fprintf(out, "\n%s\n", hours[hour]);
            begun = true;
            fprintf(out, "  %-10s  %s\n", pc_verbs[i]->name, pc_verbs[i]->question);
        }
    }
    fputs("\nplatecall VERB --help tells the options of a verb; platecall --version, which one this is.\n",
          out);
}

static void usage_of(const struct pc_option *option, char *out, size_t size)
{
    if (option->metavar != NULL)
        snprintf(out, size, "--%s %s", option->name, option->metavar);
    else
        snprintf(out, size, "--%s", option->name);
}

// What stands behind an option's help: how often, how much, and what holds without it.
static void terms_of(const struct pc_option *option, char *out, size_t size)
{
    char range[64] = "", otherwise[160] = "";
    if (option->least != 0 || option->most != 0)
        snprintf(range, sizeof range, "; %g to %g", option->least, option->most);
    if (option->otherwise != NULL)
        snprintf(otherwise, sizeof otherwise, "; otherwise: %s", option->otherwise);
    snprintf(out, size, "%s%s%s%s", range, option->required ? "; must be given" : "",
             option->repeatable ? "; may be repeated" : "", otherwise);
}

static void print_option(FILE *out, const char *usage, const char *help, const char *terms)
{
    enum { INDENT = 26 };
    char text[1024];
    size_t width = 2 + pc_print_width(usage);
    snprintf(text, sizeof text, "%s%s", help, terms);
    fprintf(out, "  %s", usage);
    if (width + 2 > INDENT) {
        fputc('\n', out);
        width = 0;
    }
    pc_print_wrapped(out, INDENT - width, INDENT, text);
}

void pc_help_verb(FILE *out, const struct pc_verb *verb)
{
    fprintf(out, "%s: %s\n\n  platecall %s %s [OPTION...]\n\n", verb->name, verb->question, verb->name,
            verb->operands);
    pc_print_wrapped(out, 0, 0, verb->about);
    for (size_t g = 0; verb->groups[g] != NULL; g++) {
        fprintf(out, "\n%s\n", verb->groups[g]->title);
        for (size_t i = 0; i < verb->groups[g]->count; i++) {
            char usage[96], terms[320];
            usage_of(&verb->groups[g]->options[i], usage, sizeof usage);
            terms_of(&verb->groups[g]->options[i], terms, sizeof terms);
            print_option(out, usage, verb->groups[g]->options[i].help, terms);
        }
    }
    fputc('\n', out);
    print_option(out, "--help", "this text", "");
}

// Text for roff: backslashes and dashes taken literally, no line that begins like a request.
static void put_roff(FILE *out, const char *text)
{
    bool line_begins = true;
    for (; *text != '\0'; text++) {
        if (line_begins && (*text == '.' || *text == '\''))
            fputs("\\&", out);
        if (*text == '\\')
            fputs("\\e", out);
        else if (*text == '-')
            fputs("\\-", out);
        else if (*text == '\n')
            fputs("\n.PP\n", out);
        else
            fputc(*text, out);
        line_begins = *text == '\n';
    }
}

static void put_roff_line(FILE *out, const char *before, const char *text, const char *after)
{
    fputs(before, out);
    put_roff(out, text);
    fputs(after, out);
    fputc('\n', out);
}

static void man_verb(FILE *out, const struct pc_verb *verb)
{
    put_roff_line(out, ".SS \"", verb->name, "\"");
    put_roff_line(out, ".I \"", verb->question, "\"");
    fprintf(out, ".PP\n.B platecall %s\n", verb->name);
    put_roff_line(out, "", verb->operands, " [OPTION...]");
    put_roff_line(out, ".PP\n", verb->about, "");
    for (size_t g = 0; verb->groups[g] != NULL; g++) {
        put_roff_line(out, ".PP\n", verb->groups[g]->title, ":");
        for (size_t i = 0; i < verb->groups[g]->count; i++) {
            const struct pc_option *option = &verb->groups[g]->options[i];
            char usage[96], terms[320];
            usage_of(option, usage, sizeof usage);
            terms_of(option, terms, sizeof terms);
            put_roff_line(out, ".TP\n.B \"", usage, "\"");
            put_roff(out, option->help);
            put_roff_line(out, "", terms, ".");
        }
    }
}

void pc_help_man(FILE *out)
{
    fputs(".TH PLATECALL 1 \"\" \"platecall " PC_VERSION "\"\n.SH NAME\n", out);
    fputs("platecall \\- measures the light on a table and answers in dial settings\n", out);
    fputs(".SH SYNOPSIS\n.B platecall\n.I VERB\n[OPTION...] [FILE...]\n.SH DESCRIPTION\n", out);
    put_roff_line(out, "", purpose, "");
    for (int hour = 0; hour < PC_HOUR_COUNT; hour++) {
        bool begun = false;
        for (size_t i = 0; i < pc_verb_count; i++) {
            if (pc_verbs[i]->hour != (enum pc_hour)hour)
                continue;
            if (!begun)
                put_roff_line(out, ".SH \"", hours[hour], "\"");
            begun = true;
            man_verb(out, pc_verbs[i]);
        }
    }
    fputs(".SH \"EXIT STATUS\"\n", out);
    for (size_t i = 0; i < PC_COUNT(endings); i++) {
        fprintf(out, ".TP\n.B %s\n", endings[i][0]);
        put_roff_line(out, "", endings[i][1], ".");
    }
    fputs(".SH ENVIRONMENT\n.TP\n.B PLATECALL_DECODER\n"
          "The program that decodes photographs, where it is not in its usual place.\n",
          out);
}

void pc_help_bash_completion(FILE *out)
{
    fputs("# bash completion for platecall, made from its table of verbs\n"
          "_platecall() {\n"
          "    local current=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} options= "
          "with_value=\n"
          "    if [ \"$COMP_CWORD\" = 1 ]; then\n"
          "        mapfile -t COMPREPLY < <(compgen -W '",
          out);
    for (size_t i = 0; i < pc_verb_count; i++)
        fprintf(out, "%s ", pc_verbs[i]->name);
    fputs("--help --version' -- \"$current\")\n        return\n    fi\n    case ${COMP_WORDS[1]} in\n", out);
    for (size_t i = 0; i < pc_verb_count; i++) {
        fprintf(out, "    %s)\n        options='--help", pc_verbs[i]->name);
        for (size_t g = 0; pc_verbs[i]->groups[g] != NULL; g++)
            for (size_t k = 0; k < pc_verbs[i]->groups[g]->count; k++)
                fprintf(out, " --%s", pc_verbs[i]->groups[g]->options[k].name);
        fputs("'\n        with_value='", out);
        for (size_t g = 0; pc_verbs[i]->groups[g] != NULL; g++)
            for (size_t k = 0; k < pc_verbs[i]->groups[g]->count; k++) {
                const struct pc_option *option = &pc_verbs[i]->groups[g]->options[k];
                if (option->kind != PC_ARG_SWITCH && option->kind != PC_ARG_PATH)
                    fprintf(out, " --%s ", option->name);
            }
        fputs("'\n        ;;\n", out);
    }
    fputs("    esac\n"
          "    if [[ $current == --* ]]; then\n"
          "        mapfile -t COMPREPLY < <(compgen -W \"$options\" -- \"$current\")\n"
          "    elif [[ $with_value != *\" $before \"* ]]; then\n"
          "        mapfile -t COMPREPLY < <(compgen -f -- \"$current\")\n"
          "        compopt -o filenames\n"
          "    fi\n"
          "}\n"
          "complete -F _platecall platecall\n",
          out);
}
