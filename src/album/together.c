#include "album/together.h"

#include "album/chain.h"
#include "album/consensus.h"
#include "album/faults.h"
#include "album/twins.h"

json_t *sl_together_judge(json_t *lines, const sl_run *run, bool whole)
{
    json_t *faults = json_array();

    sl_fault_size(faults, lines, &run->params->settings);
    sl_fault_light(faults, lines);
    if (!sl_consensus_doubt(lines, run->params->settings.limit[SL_CODE_ODD_PLACE] / 100)
        || !sl_twins_find(lines, run->out_dir,
                          run->params->settings.limit[SL_CODE_SAME_PAGE] / 100,
                          run->params->shares == 0 ? run->journal : NULL,
                          run->context != NULL ? run->context->pool : NULL)) {
        json_decref(faults);
        return NULL;
    }
    if (whole)
        sl_fault_page_count(faults, lines, run->out_dir, run->params->expect);
    return faults;
}
