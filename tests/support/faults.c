/*
 * Faults on demand, for tests: loaded before a program (LD_PRELOAD) it makes one call fail.
 *   SL_FAULT=io       what makes or changes files: open for writing, write, flush, rename, ...
 *   SL_FAULT=memory   malloc, calloc, realloc, strdup and strndup called by the program itself,
 *                     not by the libraries that it uses: what they do then is theirs
 *   SL_FAULT=loading  dlopen(), each time: the library is not installed
 *   SL_FAULT_AT=N     the Nth of these fails, once (none: only counted)
 *   SL_FAULT_ERRNO=E  with this number (default 28, ENOSPC on Linux)
 *   SL_FAULT_COUNT=F  a file that gets, at the end, how many there were
 * Descriptors 0 to 2 and what only reads are left alone.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <link.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

/* glibc's own names of its allocator: no look-up that would itself allocate. */
extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *old, size_t size);

enum kind { NONE, IO, MEMORY, LOADING };

static struct {
    enum kind   kind;
    long        at;
    int         error;
    const char *count;
    uintptr_t   first;       /* the program's own addresses */
    uintptr_t   last;
} plan;
static atomic_long calls;

/* The first object is the program (dl_iterate_phdr(3)). */
static int take_program(struct dl_phdr_info *info, size_t size, void *ctx)
{
    (void)size;
    (void)ctx;
    plan.first = UINTPTR_MAX;
    for (int i = 0; i < info->dlpi_phnum; i++) {
        const ElfW(Phdr) *h = &info->dlpi_phdr[i];
        const uintptr_t start = info->dlpi_addr + h->p_vaddr;

        if (h->p_type != PT_LOAD)
            continue;
        if (start < plan.first)
            plan.first = start;
        if (start + h->p_memsz > plan.last)
            plan.last = start + h->p_memsz;
    }
    return 1;
}

__attribute__((constructor)) static void begin(void)
{
    const char *kind = getenv("SL_FAULT");
    const char *at = getenv("SL_FAULT_AT");
    const char *error = getenv("SL_FAULT_ERRNO");

    plan.at = at != NULL ? atol(at) : 0;
    plan.error = error != NULL ? atoi(error) : ENOSPC;
    plan.count = getenv("SL_FAULT_COUNT");
    (void)dl_iterate_phdr(take_program, NULL);
    plan.kind = kind == NULL ? NONE
                : strcmp(kind, "io") == 0      ? IO
                : strcmp(kind, "loading") == 0 ? LOADING
                                               : MEMORY;
}

__attribute__((destructor)) static void end(void)
{
    char text[32];
    const int n = snprintf(text, sizeof text, "%ld\n", atomic_load(&calls));
    int fd;

    if (plan.count == NULL)
        return;
    fd = (int)syscall(SYS_openat, AT_FDCWD, plan.count, O_WRONLY | O_CREAT | O_TRUNC, 0666);
    (void)!syscall(SYS_write, fd, text, (size_t)n);
    (void)syscall(SYS_close, fd);
}

static bool fails(enum kind kind)
{
    if (plan.kind != kind || atomic_fetch_add(&calls, 1) + 1 != plan.at)
        return false;
    errno = kind == MEMORY ? ENOMEM : plan.error;
    return true;
}

static void *next(const char *name)
{
    void *f = dlsym(RTLD_NEXT, name);

    if (f == NULL)
        abort();
    return f;
}

/* The function of this name that comes after ours. */
#define REAL(type, name) \
    type;                \
    *(void **)&real = next(name)

static bool for_writing(int fd)
{
    const int flags = fd > 2 ? fcntl(fd, F_GETFL) : -1;

    return flags >= 0 && (flags & O_ACCMODE) != O_RDONLY;
}

/* ---- loading --------------------------------------------------------------------------------- */

void *dlopen(const char *file, int mode)
{
    REAL(void *(*real)(const char *, int), "dlopen");

    return plan.kind == LOADING ? NULL : real(file, mode);
}

/* ---- memory ---------------------------------------------------------------------------------- */

static bool memory_fails(const void *caller)
{
    const uintptr_t a = (uintptr_t)caller;

    return a >= plan.first && a < plan.last && fails(MEMORY);
}

#define CALLER __builtin_return_address(0)

void *malloc(size_t size)
{
    return memory_fails(CALLER) ? NULL : __libc_malloc(size);
}

void *calloc(size_t count, size_t size)
{
    return memory_fails(CALLER) ? NULL : __libc_calloc(count, size);
}

void *realloc(void *old, size_t size)
{
    return memory_fails(CALLER) ? NULL : __libc_realloc(old, size);
}

static char *copy(const char *text, size_t n)
{
    char *out = __libc_malloc(n + 1);

    if (out != NULL) {
        memcpy(out, text, n);
        out[n] = '\0';
    }
    return out;
}

char *strdup(const char *text)
{
    return memory_fails(CALLER) ? NULL : copy(text, strlen(text));
}

char *strndup(const char *text, size_t n)
{
    return memory_fails(CALLER) ? NULL : copy(text, strnlen(text, n));
}

/* ---- descriptors ----------------------------------------------------------------------------- */

static int open_as(const char *name, const char *path, int flags, mode_t mode)
{
    REAL(int (*real)(const char *, int, ...), name);

    if (((flags & O_CREAT) != 0 || (flags & O_ACCMODE) != O_RDONLY) && fails(IO))
        return -1;
    return real(path, flags, mode);
}

static mode_t mode_of(int flags, va_list args)
{
    return (flags & O_CREAT) != 0 ? va_arg(args, mode_t) : 0;
}

int open(const char *path, int flags, ...)
{
    va_list args;
    mode_t mode;

    va_start(args, flags);
    mode = mode_of(flags, args);
    va_end(args);
    return open_as("open", path, flags, mode);
}

int open64(const char *path, int flags, ...)
{
    va_list args;
    mode_t mode;

    va_start(args, flags);
    mode = mode_of(flags, args);
    va_end(args);
    return open_as("open64", path, flags, mode);
}

ssize_t write(int fd, const void *bytes, size_t size)
{
    REAL(ssize_t (*real)(int, const void *, size_t), "write");

    if (for_writing(fd) && fails(IO)) {
        (void)!real(fd, bytes, size / 2); /* a disk fills in the middle */
        errno = plan.error;
        return -1;
    }
    return real(fd, bytes, size);
}

int fsync(int fd)
{
    REAL(int (*real)(int), "fsync");

    return for_writing(fd) && fails(IO) ? -1 : real(fd);
}

int fdatasync(int fd)
{
    REAL(int (*real)(int), "fdatasync");

    return for_writing(fd) && fails(IO) ? -1 : real(fd);
}

int ftruncate(int fd, off_t size)
{
    REAL(int (*real)(int, off_t), "ftruncate");

    return fails(IO) ? -1 : real(fd, size);
}

int ftruncate64(int fd, off64_t size)
{
    REAL(int (*real)(int, off64_t), "ftruncate64");

    return fails(IO) ? -1 : real(fd, size);
}

/* The descriptor is gone also when close() fails (close(2), Linux). */
int close(int fd)
{
    REAL(int (*real)(int), "close");

    if (for_writing(fd) && fails(IO)) {
        (void)real(fd);
        errno = plan.error;
        return -1;
    }
    return real(fd);
}

int rename(const char *from, const char *to)
{
    REAL(int (*real)(const char *, const char *), "rename");

    return fails(IO) ? -1 : real(from, to);
}

int mkdir(const char *path, mode_t mode)
{
    REAL(int (*real)(const char *, mode_t), "mkdir");

    return fails(IO) ? -1 : real(path, mode);
}

int unlink(const char *path)
{
    REAL(int (*real)(const char *), "unlink");

    return fails(IO) ? -1 : real(path);
}

/* ---- streams --------------------------------------------------------------------------------- */

/* Flushes the stream onto a full device (full(4)): it fails as on a full disk, its mark with it. */
static void fill(FILE *stream)
{
    const int fd = fileno(stream);
    const int kept = dup(fd);
    const int full = (int)syscall(SYS_openat, AT_FDCWD, "/dev/full", O_RDWR);
    REAL(int (*real)(FILE *), "fflush");

    (void)dup2(full, fd);
    (void)real(stream);
    (void)dup2(kept, fd);
    (void)syscall(SYS_close, full);
    (void)syscall(SYS_close, kept);
    errno = ENOSPC;
}

size_t fwrite(const void *bytes, size_t size, size_t count, FILE *stream)
{
    REAL(size_t (*real)(const void *, size_t, size_t, FILE *), "fwrite");

    if (for_writing(fileno(stream)) && fails(IO)) {
        (void)real(bytes, size, count, stream);
        fill(stream);
        return 0;
    }
    return real(bytes, size, count, stream);
}

int fflush(FILE *stream)
{
    REAL(int (*real)(FILE *), "fflush");

    if (stream != NULL && for_writing(fileno(stream)) && fails(IO)) {
        errno = plan.error;
        return EOF;
    }
    return real(stream);
}

int fclose(FILE *stream)
{
    REAL(int (*real)(FILE *), "fclose");

    if (for_writing(fileno(stream)) && fails(IO)) {
        (void)real(stream);
        errno = plan.error;
        return EOF;
    }
    return real(stream);
}
