"""What a card, the step list and the summary of a plan say, in the unit of the job."""
