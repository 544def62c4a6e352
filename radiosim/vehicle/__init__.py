"""What the receiver's program and the outputs make of the frames that it reads.

Nothing here acts back on the link, so all of it is worked out from a trace (rules F and G).
"""
