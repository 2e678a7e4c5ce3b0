"""What a type says of itself: the form that each type's file fills in, and what several of them say alike."""
