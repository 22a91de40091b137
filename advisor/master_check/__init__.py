"""A finished master checked: against its mix, and for release."""
