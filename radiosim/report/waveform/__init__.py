"""One start as a value change dump (IEEE 1364), for the viewers that logic analysers come with."""
