"""What two apps or more use; each module is named for what it does."""
