"""Operations, edges and shop as the engines' plain problem."""
