#include "album/together.h"

#include "album/faults.h"

json_t *sl_together_judge(json_t *lines, const sl_run *run, bool whole)
{
    json_t *faults = json_array();

    if (whole)
        sl_fault_page_count(faults, lines, run->params->expect);
    return faults;
}
