/* A signed visit is amended, never edited: for which visit a reason was given, for as long as the book is open. */

let given = $state.raw<{ visit: string; reason: string } | null>(null);

export const amending = {
  reasonFor(visit: string): string | null {
    return given?.visit === visit ? given.reason : null;
  },
  begin(visit: string, reason: string): void {
    given = { visit, reason };
  },
  end(): void {
    given = null;
  },
};
