"""The failsafe drill: every fault a scene's parts allow, over phases, against the bound."""
