"""Many runs of one scenario."""
