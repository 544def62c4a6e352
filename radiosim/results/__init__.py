"""A result described once: a document of values and sentences, and what makes each output of it.

Knows nothing of what was simulated. `document`: what a report is made of; `terminal`, `html`,
`tables`, `junit`: what it becomes; `formats`: values as text.
"""
