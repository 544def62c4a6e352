/* Scripts are read and replies written; what all benches share. */
#ifndef SCRIPT_IO_H
#define SCRIPT_IO_H
#include "script.h"
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>
#ifdef __linux__
#include <signal.h>
#include <sys/prctl.h>
#endif

#define MOST_ROWS (1u << 22)

static head_t head_of;
static passes_t *segments;
static arrival_t *arrivals;
static step_t *steps;
static int64_t *interrupts;
static int script_fd, replies_fd = 1;

static void die_with_parent(void)
{
#ifdef __linux__
    prctl(PR_SET_PDEATHSIG, SIGKILL);
#endif
}

static void read_all(void *to, size_t n)
{
    uint8_t *p = to;
    while (n) {
        ssize_t got = read(script_fd, p, n);
        if (got <= 0)
            _exit(got == 0 ? 0 : 3); /* whoever wrote scripts is gone */
        p += got;
        n -= (size_t)got;
    }
}

static void write_all(const void *from, size_t n)
{
    const uint8_t *p = from;
    while (n) {
        ssize_t put = write(replies_fd, p, n);
        if (put <= 0)
            _exit(3);
        p += put;
        n -= (size_t)put;
    }
}

static void *shared(size_t bytes)
{
#ifdef MAP_NORESERVE
    int flags = MAP_SHARED | MAP_ANONYMOUS | MAP_NORESERVE;
#else
    int flags = MAP_SHARED | MAP_ANONYMOUS;
#endif
    void *p = mmap(0, bytes, PROT_READ | PROT_WRITE, flags, -1, 0);
    if (p == MAP_FAILED)
        _exit(4);
    return p;
}

static void *read_table(void *before, uint32_t rows, size_t size)
{
    free(before);
    void *table = malloc((rows + 1) * size);
    if (!table)
        _exit(4);
    read_all(table, rows * size);
    return table;
}

static void read_script(void)
{
    read_all(&head_of, sizeof head_of);
    if (head_of.magic != SCRIPT_MAGIC)
        _exit(5);
    segments = read_table(segments, head_of.passes, sizeof *segments);
    arrivals = read_table(arrivals, head_of.arrivals, sizeof *arrivals);
    steps = read_table(steps, head_of.steps, sizeof *steps);
    interrupts = read_table(interrupts, head_of.interrupts, sizeof *interrupts);
}
#endif
