#include "album/said.h"

#include <stdlib.h>
#include <string.h>

#include "album/correct.h"
#include "album/report.h"

sl_word sl_said_of(const json_t *line, const sl_correction *correction)
{
    return sl_correction_word_stands(correction, json_object_get(line, "report"))
               ? correction->word
               : SL_WORD_NONE;
}

sl_outcome sl_said_outcome(sl_outcome outcome, sl_word said)
{
    return outcome > SL_OUTCOME_RESHOOT || said == SL_WORD_NONE ? outcome
           : said == SL_WORD_ACCEPTED                              ? SL_OUTCOME_PASS
                                                                   : SL_OUTCOME_RESHOOT;
}

static const sl_correction *correction_of(const json_t *line, const sl_corrections *corrections)
{
    return sl_corrections_of(corrections, json_string_value(json_object_get(line, "sha256")));
}

void sl_said_add(json_t *page, const json_t *line, const sl_corrections *corrections)
{
    const json_t *report = json_object_get(line, "report");
    const sl_correction *c = correction_of(line, corrections);
    char key[SL_SHA256_HEX];

    if (json_is_object(report)) {
        sl_correction_outline_key(key, report);
        json_object_set_new(page, "outline_key", json_string(key));
    }
    if (c == NULL)
        return;
    json_object_set(page, "correction", c->json);
    if (json_object_get(c->json, "checks") != NULL)
        json_object_set(page, "checks", json_object_get(c->json, "checks"));
    if (sl_said_of(line, c) != SL_WORD_NONE)
        json_object_set(page, "word", json_object_get(c->json, "word"));
}

void sl_said_refuse(const json_t *lines, sl_corrections *corrections)
{
    size_t i;
    const json_t *line;

    json_array_foreach(lines, i, line) {
        const sl_correction *c = correction_of(line, corrections);

        if (c != NULL && c->word != SL_WORD_NONE && sl_said_of(line, c) == SL_WORD_NONE)
            sl_corrections_refuse(corrections, json_string_value(json_object_get(line, "page")),
                                  "word", "was about another outline: look at the page again");
    }
}

json_t *sl_said_order(json_t *lines, const sl_run *run)
{
    const size_t count = json_array_size(lines);
    size_t *index = calloc(count + 1, sizeof *index);
    const char **sha256 = calloc(count + 1, sizeof *sha256);
    json_t *ordered = json_array();

    for (size_t i = 0; index != NULL && sha256 != NULL && i < count; i++) {
        index[i] = i;
        sha256[i] = json_string_value(json_object_get(json_array_get(lines, i), "sha256"));
    }
    if (index == NULL || sha256 == NULL
        || sl_correct_order(index, sha256, count, run->corrections, NULL) != SL_OK) {
        json_decref(ordered);
        ordered = NULL;
    }
    for (size_t i = 0; ordered != NULL && i < count; i++)
        json_array_append(ordered, json_array_get(lines, index[i]));
    free(sha256);
    free(index);
    json_decref(lines);
    return ordered;
}

void sl_said_left_out(json_t *skipped, const sl_work *work, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        json_t *entry = json_pack("{s:s, s:s, s:s}", "name", work[i].shot, "why",
                                  work[i].left_out, "sha256", work[i].sha256);
        json_t *page = json_object_get(work[i].line, "page");
        json_t *pictures = json_object_get(work[i].line, "review");

        if (entry == NULL)
            continue;
        if (page != NULL)
            json_object_set(entry, "page", page);
        if (pictures != NULL)
            json_object_set(entry, "review", pictures);
        if (work[i].correction != NULL)
            json_object_set(entry, "correction", work[i].correction->json);
        json_array_append_new(skipped, entry);
    }
}

json_t *sl_said_corrections(const sl_run *run)
{
    const sl_corrections *c = run->corrections;
    const char *slash;
    json_t *refused;

    if (c->path == NULL)
        return json_null();
    slash = strrchr(c->path, '/');
    refused = json_array();
    for (size_t i = 0; i < c->refusals; i++)
        json_array_append_new(refused, json_pack("{s:s, s:s, s:s}", "page", c->refusal[i].page,
                                                 "field", c->refusal[i].field, "why",
                                                 c->refusal[i].why));
    return json_pack("{s:o, s:O?, s:o}", "file",
                     sl_report_name(slash != NULL ? slash + 1 : c->path), "order", c->order,
                     "not_applied", refused);
}
