"""What would help most at a place that a relay does not serve: single changes, computed one by one."""
