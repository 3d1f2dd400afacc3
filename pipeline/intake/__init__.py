"""What testers send back: exports of forms read, kept, matched to builds, compared. Knows the project's issues, not its assets."""
