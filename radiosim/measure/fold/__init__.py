"""What rows and effects add to the figures, in functions that also run compiled.

They are marked as rules, as in `vehicle/fold`. Each takes one row after the other, so that how
rows are cut into chunks changes nothing, not even the last bit of a sum.
"""
