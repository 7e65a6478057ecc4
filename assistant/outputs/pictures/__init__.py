"""Pictures drawn from plans, as plain shapes."""
