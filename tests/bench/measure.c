/*
 * usage: measure RUNS COMMAND [ARGUMENT...]
 * Runs a command RUNS times, its output thrown away, and prints medians and the peak:
 * CPU_MS WALL_MS PEAK_KB. With -p N before RUNS, N copies at once: wall time is that of all.
 */
/* wait4() tells one child's use; POSIX has it for all children only. */
#define _DEFAULT_SOURCE

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { RUNS_MOST = 101, COPIES_MOST = 64 };

static double now_ms(void)
{
    struct timespec t;

    (void)clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

static double milliseconds(struct timeval t)
{
    return (double)t.tv_sec * 1e3 + (double)t.tv_usec / 1e3;
}

static int by_double(const void *a, const void *b)
{
    const double p = *(const double *)a;
    const double q = *(const double *)b;

    return (p > q) - (p < q);
}

static pid_t start(char **argv)
{
    const pid_t child = fork();

    if (child == 0) {
        const int null = open("/dev/null", O_WRONLY);

        (void)dup2(null, STDOUT_FILENO);
        (void)dup2(null, STDERR_FILENO);
        (void)execvp(argv[0], argv);
        _exit(127);
    }
    return child;
}

int main(int argc, char **argv)
{
    double cpu[RUNS_MOST];
    double wall[RUNS_MOST];
    long peak = 0;
    int copies = 1;
    int runs;

    if (argc > 3 && strcmp(argv[1], "-p") == 0) {
        copies = atoi(argv[2]);
        argv += 2;
        argc -= 2;
    }
    runs = argc > 2 ? atoi(argv[1]) : 0;
    if (runs < 1 || runs > RUNS_MOST || copies < 1 || copies > COPIES_MOST) {
        (void)fputs("usage: measure [-p COPIES] RUNS COMMAND [ARGUMENT...]\n", stderr);
        return 64;
    }
    for (int i = 0; i < runs; i++) {
        const double from = now_ms();

        cpu[i] = 0;
        for (int k = 0; k < copies; k++)
            if (start(argv + 2) < 0) {
                (void)fprintf(stderr, "measure: %s\n", strerror(errno));
                return 1;
            }
        for (int k = 0; k < copies; k++) {
            struct rusage use;
            int status;

            if (wait4(-1, &status, 0, &use) < 0 || !WIFEXITED(status)
                || WEXITSTATUS(status) > 2) {
                (void)fprintf(stderr, "measure: %s failed\n", argv[2]);
                return 1;
            }
            cpu[i] += milliseconds(use.ru_utime) + milliseconds(use.ru_stime);
            peak = use.ru_maxrss > peak ? use.ru_maxrss : peak;
        }
        wall[i] = now_ms() - from;
    }
    qsort(cpu, (size_t)runs, sizeof *cpu, by_double);
    qsort(wall, (size_t)runs, sizeof *wall, by_double);
    (void)printf("%.1f %.1f %ld\n", cpu[runs / 2], wall[runs / 2], peak);
    return 0;
}
