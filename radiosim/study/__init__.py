"""Many runs of one scene."""
