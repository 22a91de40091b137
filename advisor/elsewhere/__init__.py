"""The mix on other speakers and in other places."""
