"""What logs of the bench say about a scenario: figures beside those of simulated logs, which held,
what explains those that did not, and the scenario with what was measured."""
