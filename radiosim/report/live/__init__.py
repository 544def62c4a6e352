"""What the live page says: its controls, the JSON of an answer, what a builder takes away.

A page asks by a POST of JSON to `answer`:

    {"page": "a name of its own", "digest": "of the file that the page was opened with",
     "set": {"transmitter.drive.period_ms": 21}, "lines": [], "faults": true}

`set` holds what differs from the file: keys of controls alone, numbers where a control has
`values`, one of its `words` where it has those. `lines` are `KEY=VALUE` lines that a cure or a
recommendation has proposed before, set before `set` is. Without `faults` the scenario's own are
left out.
The answer is lines of JSON, each an object whose `kind` says what it is, in this order:

- `foretold`, before anything is simulated: `starts`, `simulated_s`, `pairs` (each `first`,
  `second`, `is_beating`, `text`), `reaction` (each `output`, `bound_ms` or null, `text`) and
  `figures`: `near`, how far periods are from beating, where there are two.
- `look`, the more the longer: `number` from 1, `starts` so far `of` all, `is_last`, `simulated_s`;
  `verdict` with `is_well` (true, false, or null where it is not known yet); `answers` (each
  `question`, `text`, `is_good` or null); `streams` and `outputs` (each `name`, of a stream its
  `verdict` and `longest_ms`, the longest gap start by start, and `figures`: each `key`, `title`,
  `text`, `value` or null, `note`; the longest gap also `chance_of_more`: with at most this chance
  another ordinary start has a longer one, null where nothing is known); `requirements` (each
  `figure`, `is`, `asked`, `state`: holds, failed, open, and `why`); `hazards` (the worst first:
  `text`, and `is_final` where no more starts can change it); `figures`: pictures as below, by name
  `gaps` and, where a value came through, `latency`. What more starts may change says "so far" or
  "at least" in its text.
- `figure`: one picture that takes a start of its own, in `figure`: `name` (`worst`, the air around
  the longest gap; `beats`, where periods beat), `title`, `text` and `data`, the very numbers that
  the written page draws it from (`report/figures/`). Those and `meet` come once all is simulated.
- `meet`: `marks`, by key of a period: for each of the control's values whether periods beat there;
  then, as `figure` too, `trade-off-0` and on, of each timeout.
- the last: `done`, `outdated` (the page has asked again, or is gone) or `refused` with `problems`
  (texts, one a line of the terminal).

`cure` and `tune`, asked in the same way, answer lines too: `progress` (`what`, `done`, `total` or
null), then `cure` or `tune` (`verdict`, `lines` to propose, `sections` of the written report:
each `heading`, `sentences` with `text`, `lead`, `role` and `form`, `tables` with `caption`,
`columns`, `rows` of cells with `text` and `role`, `note`), then `done`, `outdated` or `refused`.

`text`, asked in the same way, answers one object: `lines` (as `--set` takes them), `command`,
`toml` (the file with them in it, its comments kept; null where it cannot be said so), `difference`,
`can_write`. `write` writes that text into the file and answers `written`, its name. What is refused
has status 409 and is an object as `refused` above.
"""
