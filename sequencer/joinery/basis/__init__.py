"""What all of joinery rests on: the shop floor, the seats of a joint, refusals, how near is one."""
