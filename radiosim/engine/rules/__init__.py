"""The rules that decide, as pure functions of numbers: no state, no clock, no engine."""
