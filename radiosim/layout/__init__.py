"""What is inside a frame: fields, where their bits lie, and the bytes that travel."""

from radiosim.layout.codec import Codec, codec_of
from radiosim.layout.description import Conversion, FieldDescription, LayoutDescription
from radiosim.layout.field import Field
from radiosim.layout.layout import LONGEST_PAYLOAD_BYTES, Layout, lay_out, plain_layout

__all__ = [
    "LONGEST_PAYLOAD_BYTES",
    "Codec",
    "Conversion",
    "Field",
    "FieldDescription",
    "Layout",
    "LayoutDescription",
    "codec_of",
    "lay_out",
    "plain_layout",
]
