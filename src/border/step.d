src/border/step.o: src/border/step.c src/border/step.h
src/border/step.h:
