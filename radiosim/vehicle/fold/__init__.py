"""What the receiver's program does with its reads, in functions that also run compiled.

They are marked as rules: plain Python on plain objects, or machine code on one record.
"""
