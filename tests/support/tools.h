/* Programs that stand as references: what they print, and whether they are here at all. */
#ifndef TESTS_TOOLS_H
#define TESTS_TOOLS_H

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/*
 * Is the program on PATH? Says so when it is not: the caller then skips, and this is the reason.
 */
static inline bool tool_found(const char *name)
{
    char command[128];

    snprintf(command, sizeof command, "command -v %s > /dev/null 2>&1", name);
    if (system(command) == 0)
        return true;
    printf("missing: %s\n", name);
    return false;
}

/* What a shell command prints, cut to `room`; its exit status, -1 when it did not start. */
static inline int tool_output(char *out, size_t room, const char *command)
{
    FILE *pipe = popen(command, "r");
    size_t n = 0;

    out[0] = '\0';
    if (pipe == NULL)
        return -1;
    n = fread(out, 1, room - 1, pipe);
    out[n] = '\0';
    while (fgetc(pipe) != EOF)
        continue;            /* so that a long talker ends by itself */
    return pclose(pipe);
}

#endif
