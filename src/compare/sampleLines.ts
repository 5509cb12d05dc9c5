/** Units of a point that are fed by one sample line: what disturbs the line disturbs all of them alike. */
export interface SampleLine {
  readonly sampleLine: string
  /** Positions of the units, ascending. */
  readonly units: readonly number[]
}

interface Fed {
  readonly id: string
  readonly sampleLine: string | undefined
}

/** Lines that feed two or more units of a point but not all of them: only then can a line be told from its units. */
export function sharedLines(analyzers: readonly Fed[]): SampleLine[] {
  const units = new Map<string, number[]>()
  analyzers.forEach(({ sampleLine }, i) => {
    if (sampleLine !== undefined) units.set(sampleLine, [...(units.get(sampleLine) ?? []), i])
  })
  return [...units]
    .filter(([, on]) => on.length >= 2 && on.length < analyzers.length)
    .map(([sampleLine, on]) => ({ sampleLine, units: on }))
}

/** How many lines these units are fed by; one that names no line has its own. */
export function linesOf(analyzers: readonly Fed[]): number {
  return new Set(
    analyzers.map(({ id, sampleLine }) => (sampleLine === undefined ? `unit ${id}` : `line ${sampleLine}`)),
  ).size
}

/**
 * Whether the other units together can say that this one is wrong: those of one line are one voice, and one voice
 * against one accuses either alike.
 */
export function othersOutvote(analyzers: readonly Fed[], unit: number): boolean {
  return linesOf(analyzers.filter((_, i) => i !== unit)) >= 2
}
