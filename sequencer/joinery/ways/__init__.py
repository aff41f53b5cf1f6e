"""By which ways each joint can be made, clear of the slots of the others."""
