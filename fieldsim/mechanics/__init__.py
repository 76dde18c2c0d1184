"""What the hand feels, what the shafts bear, and what could come loose."""
