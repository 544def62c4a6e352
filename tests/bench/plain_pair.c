/* The loop once more, by hand: two or more plain transmitters on timers, a receiver that polls.
 *
 * No acknowledgement, jitter, work, deaf span or fault; the rules, the order of slots, the draws and
 * the rows of the trace are those of radiosim/engine/fast. It is the yardstick of the compiled
 * loop's speed: tests/bench/against_c.py builds it and compares every row. */
#include <stdint.h>
#include <stdlib.h>

typedef int64_t i64;

enum { TRANSMITTERS = 6, ROWS = 1024, ROOM = ROWS + 64, DEPTH = 3, SLOT_BITS = 6 };
enum { END, TABLE_FULL, UNKNOWN_STEP };
enum { NEW, DUPLICATE, FULL, OFF, OUT_OF_RANGE, DEAF, COLLISION, CHANCE };
enum { SENT = 1, SKIPPED = 4, QUEUE_FULL = 6, POWER_CUT = 7, UNDER_WAY = 8 };
enum { READ = 0, WAITING = 3 };
enum { PROGRAM_STARTS = 0, RADIO_STARTS = 4 };
enum { ATTEMPTS, FRAMES, READS, PASSES, TABLES };

static const i64 NEVER = (i64)1 << 62, FOREVER_NS = (i64)1 << 62, BILLION = 1000000000;

typedef struct {
  i64 period_ns, offset_ns, ppb, upload_ns, settle_ns, frame_ns, address_ns, loss_53, key_low,
      key_high, reading_ns;
  double power_mw;
} Tx;

typedef struct {
  i64 pass_ns, interrupt_ns;
  double cochannel_ratio;
} Rx;

typedef struct {
  i64 at_ns, unit, kind;
} Step;

typedef struct {
  i64 stream, frame, sampled_ns, values_ns, values_frame, number, attempts, accepted_ns;
} Frame;

typedef struct {
  i64 running, base_ns, tick, frames, on, busy, number, fill, flying, start_ns, end_ns, hit_ns,
      shut_out;
  Frame fifo[DEPTH];
} Transmitter;

typedef struct {
  i64 n, until_ns, steps, taken;
  const Step *step;
  Tx tx[TRANSMITTERS];
  Rx rx;
  Transmitter transmitter[TRANSMITTERS];
  i64 due[5 * TRANSMITTERS + 8];
  i64 on_since_ns, listening_ns, running, fill, previous_ns, next_ns, coming_previous_ns,
      coming_next_ns;
  Frame fifo[DEPTH];
  i64 rows[TABLES];
  i64 attempt[ROOM][8], frame[ROOM][8], read[ROOM][8], pass[ROOM][3];
} World;

static i64 floor_div(i64 a, i64 b) { return a / b - (a % b != 0 && (a < 0) != (b < 0)); }

static i64 scaled(i64 nominal_ns, i64 ppb) {
  i64 whole = floor_div(nominal_ns, BILLION), rest = nominal_ns - whole * BILLION;
  return nominal_ns + whole * ppb + floor_div(rest * ppb + BILLION / 2, BILLION);
}

static int is_lost(const Tx *tx, i64 frame, i64 attempt) {
  if (tx->loss_53 == 0) return 0;
  uint32_t c0 = (uint32_t)frame, c1 = (uint32_t)(frame >> 32), c2 = (uint32_t)attempt, c3 = 1;
  uint32_t k0 = (uint32_t)tx->key_low, k1 = (uint32_t)tx->key_high;
  for (int round = 0; round < 10; round++) {
    uint64_t p0 = (uint64_t)0xD2511F53 * c0, p1 = (uint64_t)0xCD9E8D57 * c2;
    c0 = (uint32_t)(p1 >> 32) ^ c1 ^ k0;
    c1 = (uint32_t)p1;
    c2 = (uint32_t)(p0 >> 32) ^ c3 ^ k1;
    c3 = (uint32_t)p0;
    k0 += 0x9E3779B9;
    k1 += 0xBB67AE85;
  }
  return (i64)(c0 >> 5) * 67108864 + (c1 >> 6) < tx->loss_53;
}

static void set_due(World *w, i64 slot, i64 at_ns) {
  w->due[slot] = at_ns < w->until_ns ? (at_ns << SLOT_BITS) | slot : NEVER;
}

static i64 end_slot(i64 i) { return i; }
static i64 done_slot(const World *w, i64 i) { return w->n + 2 + i; }
static i64 step_slot(const World *w) { return 2 * w->n + 2; }
static i64 sample_slot(const World *w, i64 i) { return 2 * w->n + 4 + 2 * i; }
static i64 start_slot(const World *w, i64 i) { return 4 * w->n + 4 + i; }
static i64 pass_slot(const World *w) { return 5 * w->n + 4; }

static void log_frame(World *w, const Frame *f, i64 done_ns, i64 outcome) {
  i64 *row = w->frame[w->rows[FRAMES]++];
  row[0] = f->stream, row[1] = f->frame, row[2] = f->attempts, row[3] = f->sampled_ns;
  row[4] = f->values_ns, row[5] = f->values_frame, row[6] = done_ns, row[7] = outcome;
}

static void log_attempt(World *w, i64 i, i64 end_ns, i64 fate) {
  const Transmitter *s = &w->transmitter[i];
  const Frame *f = &s->fifo[0];
  i64 *row = w->attempt[w->rows[ATTEMPTS]++];
  row[0] = i, row[1] = f->frame, row[2] = f->attempts, row[3] = 0;
  row[4] = f->number, row[5] = s->start_ns, row[6] = end_ns, row[7] = fate;
}

static void log_read(World *w, const Frame *f, i64 read_ns, i64 outcome) {
  i64 *row = w->read[w->rows[READS]++];
  row[0] = f->stream, row[1] = f->frame, row[2] = f->sampled_ns, row[3] = f->values_ns;
  row[4] = f->values_frame, row[5] = f->accepted_ns, row[6] = read_ns, row[7] = outcome;
}

static void set_tick(World *w, i64 i, i64 after_ns) {
  Transmitter *s = &w->transmitter[i];
  const Tx *tx = &w->tx[i];
  i64 at_ns;
  do {
    at_ns = s->base_ns + tx->offset_ns + scaled(s->tick * tx->period_ns, tx->ppb);
    if (at_ns <= after_ns) s->tick++;
  } while (at_ns <= after_ns);
  set_due(w, sample_slot(w, i), at_ns);
}

static void on_sample(World *w, i64 i, i64 now) {
  Transmitter *s = &w->transmitter[i];
  Frame f = {i, s->frames, now, now, s->frames, -1, 0, 0};
  s->frames++;
  s->tick++;
  if (s->busy) {
    log_frame(w, &f, now, SKIPPED);
  } else if (!s->on) {
    log_frame(w, &f, now, POWER_CUT);
  } else {
    if (s->fill >= DEPTH) {
      log_frame(w, &f, now, QUEUE_FULL);
    } else {
      s->number = (s->number + 1) & 3;
      f.number = s->number;
      s->fifo[s->fill++] = f;
    }
    s->busy = 1;
    set_due(w, start_slot(w, i), now + w->tx[i].upload_ns + w->tx[i].settle_ns);
  }
  set_tick(w, i, now);
}

static i64 hearing(const World *w, i64 start_ns, int hit) {
  if (start_ns < w->on_since_ns) return OFF;
  if (start_ns < w->listening_ns) return DEAF;
  return hit ? COLLISION : NEW;
}

static int holds(const World *w, i64 j, i64 i, i64 now) {
  const Transmitter *other = &w->transmitter[j];
  i64 matched_ns = other->start_ns + w->tx[j].address_ns;
  if (other->shut_out || other->end_ns <= now + w->tx[i].address_ns) return 0;
  return matched_ns <= now && other->hit_ns >= matched_ns;
}

static void spoil(World *w, i64 now) {
  for (i64 i = 0; i < w->n; i++) {
    double level_mw = 0.0;
    if (!w->transmitter[i].flying) continue;
    for (i64 j = 0; j < w->n; j++)
      if (j != i && w->transmitter[j].flying) level_mw += w->tx[j].power_mw;
    double power_mw = w->tx[i].power_mw;
    int survives = power_mw > level_mw && power_mw >= level_mw * w->rx.cochannel_ratio;
    if (!survives && now < w->transmitter[i].hit_ns) w->transmitter[i].hit_ns = now;
  }
}

static void on_start(World *w, i64 i, i64 now) {
  Transmitter *s = &w->transmitter[i];
  int is_alone = 1;
  w->due[start_slot(w, i)] = NEVER;
  s->fifo[0].attempts++;
  s->flying = 1;
  s->start_ns = now;
  s->end_ns = now + w->tx[i].frame_ns;
  s->hit_ns = FOREVER_NS;
  s->shut_out = 0;
  set_due(w, end_slot(i), s->end_ns);
  for (i64 j = 0; j < w->n; j++) {
    if (j == i || !w->transmitter[j].flying) continue;
    is_alone = 0;
    if (holds(w, j, i, now) && hearing(w, w->transmitter[j].start_ns, 0) == NEW) s->shut_out = 1;
  }
  if (!is_alone) spoil(w, now);
}

static void wake(World *w) {
  if (!w->running || w->due[pass_slot(w)] != NEVER) return;
  i64 accepted_ns = w->fifo[0].accepted_ns;
  w->coming_previous_ns = w->previous_ns;
  w->coming_next_ns = w->next_ns;
  if (w->next_ns < accepted_ns) {
    i64 steps = (accepted_ns - w->next_ns + w->rx.pass_ns - 1) / w->rx.pass_ns;
    w->coming_previous_ns = w->next_ns + (steps - 1) * w->rx.pass_ns;
    w->coming_next_ns = w->next_ns + steps * w->rx.pass_ns;
  }
  set_due(w, pass_slot(w), w->coming_next_ns);
}

static void on_end(World *w, i64 i, i64 now) {
  Transmitter *s = &w->transmitter[i];
  const Frame *f = &s->fifo[0];
  w->due[end_slot(i)] = NEVER;
  s->flying = 0;
  i64 fate = hearing(w, s->start_ns, s->hit_ns != FOREVER_NS || s->shut_out);
  if (fate == NEW && is_lost(&w->tx[i], f->frame, f->attempts)) fate = CHANCE;
  if (fate == NEW && w->fill >= DEPTH) fate = FULL;
  if (fate == NEW) {
    w->fifo[w->fill] = *f;
    w->fifo[w->fill++].accepted_ns = now + w->rx.interrupt_ns;
    wake(w);
  }
  log_attempt(w, i, now, fate);
  set_due(w, done_slot(w, i), now);
}

static void on_done(World *w, i64 i, i64 now) {
  Transmitter *s = &w->transmitter[i];
  w->due[done_slot(w, i)] = NEVER;
  log_frame(w, &s->fifo[0], now, SENT);
  s->fill--;
  for (i64 f = 0; f < s->fill; f++) s->fifo[f] = s->fifo[f + 1];
  s->busy = 0;
}

static void on_pass(World *w, i64 now) {
  i64 standing = 0, reading_ns = 0, start_ns;
  w->due[pass_slot(w)] = NEVER;
  w->previous_ns = w->coming_previous_ns;
  w->next_ns = start_ns = w->coming_next_ns;
  for (i64 f = 0; f < w->fill; f++) standing += w->fifo[f].accepted_ns <= now;
  for (i64 f = 0; f < standing; f++) {
    log_read(w, &w->fifo[f], now, READ);
    reading_ns += w->tx[w->fifo[f].stream].reading_ns;
  }
  w->fill -= standing;
  for (i64 f = 0; f < w->fill; f++) w->fifo[f] = w->fifo[f + standing];
  w->previous_ns = start_ns;
  w->next_ns += w->rx.pass_ns + reading_ns;
  if (standing > 0) {
    i64 *row = w->pass[w->rows[PASSES]++];
    row[0] = start_ns, row[1] = w->next_ns, row[2] = standing;
  }
  if (w->fill > 0) wake(w);
}

static int on_step(World *w, i64 now) {
  const Step *step = &w->step[w->taken++];
  set_due(w, step_slot(w), w->taken < w->steps ? w->step[w->taken].at_ns : FOREVER_NS >> SLOT_BITS);
  if (step->kind == PROGRAM_STARTS && step->unit == w->n) {
    w->running = 1;
    w->next_ns = now;
    w->previous_ns = now - 1;
    if (w->fill > 0) wake(w);
  } else if (step->kind == PROGRAM_STARTS) {
    Transmitter *s = &w->transmitter[step->unit];
    s->running = 1;
    s->base_ns = now;
    s->tick = 0;
    set_tick(w, step->unit, now - 1);
  } else if (step->kind == RADIO_STARTS && step->unit == w->n) {
    w->on_since_ns = w->listening_ns = now;
  } else if (step->kind == RADIO_STARTS) {
    Transmitter *s = &w->transmitter[step->unit];
    s->on = 1, s->busy = 0, s->number = -1;
  } else {
    return 0;
  }
  return 1;
}

i64 advance(World *w) {
  i64 n = w->n, slots = 5 * n + 5;
  while (w->rows[ATTEMPTS] < ROWS && w->rows[FRAMES] < ROWS && w->rows[READS] < ROWS &&
         w->rows[PASSES] < ROWS) {
    i64 first = NEVER;
    for (i64 slot = 0; slot < slots; slot++) first = w->due[slot] < first ? w->due[slot] : first;
    if (first == NEVER) return END;
    i64 slot = first & ((1 << SLOT_BITS) - 1), now = first >> SLOT_BITS;
    if (slot < n) {
      on_end(w, slot, now);
    } else if (slot == step_slot(w)) {
      if (!on_step(w, now)) return UNKNOWN_STEP;
    } else if (slot < step_slot(w)) {
      on_done(w, slot - done_slot(w, 0), now);
    } else if (slot < start_slot(w, 0)) {
      on_sample(w, (slot - sample_slot(w, 0)) / 2, now);
    } else if (slot < pass_slot(w)) {
      on_start(w, slot - start_slot(w, 0), now);
    } else {
      on_pass(w, now);
    }
  }
  return TABLE_FULL;
}

void close_run(World *w) {
  for (i64 i = 0; i < w->n; i++)
    for (i64 f = 0; f < w->transmitter[i].fill; f++)
      log_frame(w, &w->transmitter[i].fifo[f], w->until_ns, UNDER_WAY);
  for (i64 f = 0; f < w->fill; f++) log_read(w, &w->fifo[f], w->until_ns, WAITING);
}

World *new_run(i64 n, i64 until_ns, const Tx *tx, const Rx *rx, const Step *step, i64 steps) {
  World *w = calloc(1, sizeof *w);
  if (w == NULL) return NULL;
  w->n = n, w->until_ns = until_ns, w->rx = *rx, w->step = step, w->steps = steps;
  for (size_t slot = 0; slot < sizeof w->due / sizeof *w->due; slot++) w->due[slot] = NEVER;
  for (i64 i = 0; i < n; i++) w->tx[i] = tx[i], w->transmitter[i].hit_ns = FOREVER_NS;
  w->on_since_ns = w->listening_ns = FOREVER_NS;
  if (steps > 0) set_due(w, step_slot(w), step[0].at_ns);
  return w;
}

void end_run(World *w) { free(w); }

const i64 *table(World *w, i64 which) {
  const i64 *tables[TABLES] = {w->attempt[0], w->frame[0], w->read[0], w->pass[0]};
  return tables[which];
}

i64 *row_counts(World *w) { return w->rows; }
