"""What is to be made: the blade, its outline, bores and slots, in the part frame."""

from knifecam.blade.blade import Blade, Bore, Slot, Steel

__all__ = ["Blade", "Bore", "Slot", "Steel"]
