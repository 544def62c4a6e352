/* The bench for a program compiled for this machine: each life of it is a process of its own,
   so that globals begin afresh as on the board. */
#define _GNU_SOURCE
#define _DARWIN_C_SOURCE
#include "bench.h"
#include "receiver.h"
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <sys/resource.h>
#include <sys/time.h>
#include <sys/wait.h>
#ifdef __linux__
#include <ucontext.h>
#endif

#define CALLER ((int64_t)(intptr_t)__builtin_return_address(0) - 1)

enum { CLOCK_CALLS_FREE = 200, CALL_NS = 1000, LOOK_US = 100000 };
enum { MOST_PRINTED = 1 << 20 };

__attribute__((weak)) void rx_interrupt(void) {}
__attribute__((weak)) extern const uint32_t rx_stamp;

static void call(int where)
{
    if (where == IN_BOOT)
        rx_boot();
    else if (where == IN_PASS)
        rx_pass();
    else
        rx_interrupt();
}

static void give_up(int status)
{
    S->reply.status = (uint32_t)status;
    _exit(0);
}

/* The end of the run, or of this life, ends whatever it waits for. */
static void look_at_time(void)
{
    if (S->now_ns + S->spent_ns >= S->stop_ns && S->reply.where != IN_BOOT)
        give_up(FINE);
    if (S->spent_ns > head_of.stuck_ns)
        give_up(STUCK);
}

/* A program that asks the time, or the radio, again and again waits: so time goes on. */
static void asked(void)
{
    if (++S->clock_calls > CLOCK_CALLS_FREE)
        S->spent_ns += CALL_NS;
    look_at_time();
}

uint8_t rx_take(uint8_t *pipe, uint8_t bytes[32])
{
    S->reply.pc = CALLER;
    asked();
    return take(pipe, bytes);
}
uint32_t rx_us(void)
{
    S->reply.pc = CALLER;
    asked();
    return (uint32_t)clock_us();
}
uint32_t rx_ms(void)
{
    S->reply.pc = CALLER;
    asked();
    return (uint32_t)(clock_us() / 1000);
}
void rx_wait_us(uint32_t us)
{
    S->reply.pc = CALLER;
    S->spent_ns += 1000 * (int64_t)us;
    look_at_time();
}
void rx_pulse(uint8_t output, uint16_t us)
{
    S->reply.pc = CALLER;
    out(PULSE, output, us);
}
void rx_level(uint8_t output, int16_t level)
{
    S->reply.pc = CALLER;
    out(LEVEL, output, level);
}
void rx_failsafe(uint8_t pipe, uint8_t is_on)
{
    S->reply.pc = CALLER;
    out_failsafe(pipe, is_on);
}

/* What a compiler calls when a buffer on the stack was written past its end. */
void __stack_chk_fail(void);
void __stack_chk_fail(void)
{
    S->reply.pc = CALLER;
    give_up(OVERRUN);
}

static int64_t place_of(void *context)
{
#if defined __linux__ && defined __x86_64__
    extern const char __executable_start, etext;
    const greg_t *registers = ((ucontext_t *)context)->uc_mcontext.gregs;
    int64_t pc = registers[REG_RIP];
    if (pc >= (intptr_t)&__executable_start && pc < (intptr_t)&etext)
        return pc;
    /* In a library, or nowhere: who called it, if it has not moved its stack. */
    int64_t from = registers[REG_RSP] % 8 ? 0 : *(int64_t *)registers[REG_RSP];
    return from >= (intptr_t)&__executable_start && from < (intptr_t)&etext ? from - 1 : 0;
#elif defined __linux__ && defined __aarch64__
    return (int64_t)((ucontext_t *)context)->uc_mcontext.pc;
#else
    (void)context;
    return 0;
#endif
}

static void on_crash(int number, siginfo_t *info, void *context)
{
    (void)info;
    S->reply.pc = 0;
    S->reply.signal = (uint32_t)number;
    S->reply.status = CRASHED;
    struct sigaction again = {.sa_handler = SIG_DFL};
    sigaction(number, &again, 0); /* should the stack itself be gone */
    S->reply.pc = place_of(context);
    _exit(0);
}

/* Looks now and then whether the call that runs is still the one before. */
static void on_look(int number, siginfo_t *info, void *context)
{
    static int64_t seen_calls = -1, looks;
    (void)number, (void)info;
    looks = S->reply.calls == seen_calls ? looks + 1 : 0;
    seen_calls = S->reply.calls;
    if (looks * LOOK_US < head_of.endless_us)
        return;
    S->reply.pc = place_of(context);
    S->reply.status = ENDLESS;
    _exit(0);
}

static void limit_to(int what, rlim_t most)
{
    struct rlimit limit = {.rlim_cur = most, .rlim_max = most};
    setrlimit(what, &limit);
}

static void guard(void)
{
    static char stack[65536];
    stack_t own = {.ss_sp = stack, .ss_size = sizeof stack};
    sigaltstack(&own, 0);
    struct sigaction act = {.sa_sigaction = on_crash, .sa_flags = SA_SIGINFO | SA_ONSTACK};
    const int all[] = {SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT, SIGTRAP};
    for (unsigned k = 0; k < sizeof all / sizeof *all; k++)
        sigaction(all[k], &act, 0);
    act.sa_sigaction = on_look;
    sigaction(SIGVTALRM, &act, 0);
    struct itimerval every = {{0, LOOK_US}, {0, LOOK_US}};
    setitimer(ITIMER_VIRTUAL, &every, 0);
    setvbuf(stdout, 0, _IOLBF, 0); /* what it prints is told, also if it ends without a word */
    signal(SIGXFSZ, SIG_IGN); /* what is printed beyond the limit is lost, and nothing else */
    limit_to(RLIMIT_FSIZE, MOST_PRINTED);
    limit_to(RLIMIT_CORE, 0);
}

static void live_apart(void)
{
    S->reply.status = ENDED; /* unless it gets through */
    pid_t child = fork();
    if (child < 0)
        _exit(6);
    if (child == 0) {
        die_with_parent();
        close(script_fd);
        close(replies_fd);
        guard();
        live();
        S->reply.status = FINE;
        _exit(0);
    }
    int how = 0;
    while (waitpid(child, &how, 0) < 0)
        ;
    if (WIFSIGNALED(how)) {
        S->reply.status = CRASHED;
        S->reply.signal = (uint32_t)WTERMSIG(how);
    }
}

int main(void)
{
    die_with_parent();
    /* What the program reads or prints must not get among scripts and replies. */
    script_fd = dup(0);
    replies_fd = dup(1);
    int nothing = open("/dev/null", O_RDONLY);
    dup2(nothing, 0);
    dup2(2, 1);
    make_room();
    S->reply.stamp = &rx_stamp ? rx_stamp : 0;
    for (;;) {
        begin_start();
        while (S->reply.status == FINE && next_boot())
            live_apart();
        write_reply();
    }
}
