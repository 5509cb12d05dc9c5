/** What a publisher's label means to the service; `hole` is no label: the record itself lacks readings there. */
export const LABEL_CLASSES = [
  'fouling',
  'fault',
  'calibration',
  'shift',
  'noise',
  'removed',
  'raised',
  'spikes',
  'sample',
  'zero error',
  'gap',
  'hole',
  'unexplained',
  'process',
  'exchange',
  'not reviewed',
] as const
export type LabelClass = (typeof LABEL_CLASSES)[number]

/** Labels that are no fault of the analyzer, or say nothing of it. */
export const NO_FAULT: readonly LabelClass[] = ['process', 'exchange', 'not reviewed']

/**
 * Codes of the estuarine programme, the first that stands in the label wins (System-wide Monitoring Program, list of
 * flags and codes, 2019 edition, as described in tests/published/data/estuary-apalachicola/README.md).
 */
const ESTUARY: readonly (readonly [RegExp, LabelClass])[] = [
  [/\bCND\b/, 'exchange'],
  [/\b(SBO|CBF|SWM)\b/, 'fouling'],
  [/\b(SSM|STF)\b/, 'fault'],
  [/\b(SPC|SIC)\b/, 'calibration'],
  [/\b(SOW|GOW|CLT|CWD)\b/, 'sample'],
  [/\bCAF\b/, 'zero error'],
  [/\b(CRE|CWE|CDB|CAB)\b/, 'process'],
  [/\b(STS|CTS)\b/, 'spikes'],
  [/^-2|\b(GIM|GIT|GPF|GMC)\b/, 'gap'],
  [/\b(GSM|CSM)\b/, 'unexplained'],
]

/** Qualifiers of the river technicians; their meaning is not published, so the class says what was seen to be done. */
const LOGAN: readonly (readonly [RegExp, LabelClass])[] = [
  [/^no corrected value$/, 'not reviewed'],
  [/^qualifier 1$/, 'spikes'],
  [/^qualifier 2$/, 'removed'],
  [/^qualifier 5$/, 'raised'],
  [/^qualifier /, 'unexplained'],
]

/** Types of the experts of the two northern rivers. */
const QUEENSLAND: readonly (readonly [RegExp, LabelClass])[] = [
  [/^type [AIJ]$/, 'spikes'],
  [/^type [CDL]$/, 'shift'],
  [/^type E$/, 'noise'],
  [/^type K$/, 'gap'],
]

const BY_SET: Readonly<Record<string, readonly (readonly [RegExp, LabelClass])[]>> = {
  'estuary-apalachicola': ESTUARY,
  'estuary-elkhorn': ESTUARY,
  'river-logan': LOGAN,
  'river-queensland': QUEENSLAND,
}

/** @throws RangeError for a label nobody has read */
export function classOf(set: string, label: string): LabelClass {
  const found = BY_SET[set]?.find(([pattern]) => pattern.test(label))
  if (found === undefined) throw new RangeError(`${set} has no class for the label ${JSON.stringify(label)}`)
  return found[1]
}
