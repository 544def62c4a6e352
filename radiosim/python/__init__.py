"""The interface of Python: commands as functions, results as objects; `import radiosim` has it.

Two transmitters of equal period beat; another period ends that, on the same draws:

>>> import radiosim
>>> equal = radiosim.load("twin-clocks").replace(starts=2, duration_s=20)
>>> other = equal.replace(**{"transmitter.head.period_ms": 23})
>>> before, after = (radiosim.run(each, findings=False, workers=1) for each in (equal, other))
>>> before.figures.stream["drive"].gap_ms.max > 10 * after.figures.stream["drive"].gap_ms.max
True
>>> before.worst["stream.drive.gap_ms.max"].start
0
>>> before.findings is None  # nobody looked for any
True
>>> list(before.plot)
['gaps', 'worst', 'beats', 'latency', 'first']
>>> list(before.tables()["streams"])[:3]
['stream', 'send_rate_hz', 'update_rate_hz']
>>> before.ok, after.ok
(False, True)

A start row by row; numbers that stand for something have names:

>>> trace = radiosim.simulate(equal, start=0)
>>> lost = trace.attempts[trace.attempts["fate"] == radiosim.Fate.COLLISION]
>>> len(lost) > 100
True
>>> radiosim.Fate(lost["fate"][0])
<Fate.COLLISION: 6>

What cannot be is refused:

>>> equal.replace(**{"transmitter.head.period": 23})
Traceback (most recent call last):
    ...
radiosim.errors.ScenarioError: replace: transmitter.head.period: unknown key 'period', ...
"""
