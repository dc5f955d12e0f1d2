"""What contradicts itself and what cannot be made, told before anything is planned."""
