"""Where a sampled frame can end (rule H)."""

PLACES = (
    "read",
    "waiting",
    "thrown away",
    "never accepted",
    "skipped",
    "replaced",
    "queue full",
    "power cut",
    "under way",
)
(
    IN_PROGRAM,
    IN_FIFO,
    GONE_WITH_FIFO,
    NEVER_ACCEPTED,
    BUSY,
    OVERTAKEN,
    NO_ROOM,
    CUT_BEFORE_SENDING,
    ON_ITS_WAY,
) = range(len(PLACES))
