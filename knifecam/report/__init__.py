"""What was made and measured, in lines and pictures."""
