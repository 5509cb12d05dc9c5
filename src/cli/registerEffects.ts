/** What a changed field of the register does to charts that are running. */
export type Effect = 'plant_begins' | 'limits_anew' | 'lines_restart' | 'charts_go_on_unless_replaced' | 'charts_go_on'

export const EFFECT_TEXT: Readonly<Record<Effect, string>> = {
  plant_begins: 'another plant: it begins empty, in a store of its own',
  limits_anew: 'charts go on; limits are solved anew with the next value',
  lines_restart: 'lines of evidence at the point begin anew',
  charts_go_on_unless_replaced:
    'charts go on, and readings by another method than the unit stop counting; if the instrument is another one, record work "replaced"',
  charts_go_on: 'charts go on as they are',
}

const RULES: readonly (readonly [RegExp, Effect])[] = [
  [/^plant$/, 'plant_begins'],
  [/^points\.[^.]+$/, 'lines_restart'],
  [/^points\.[^.]+\.analyzers(\.[^.]+)?$/, 'lines_restart'],
  [/^points\.[^.]+\.analyzers\.[^.]+\.(unit|serial)$/, 'charts_go_on_unless_replaced'],
  [/^points\.[^.]+\.class$/, 'limits_anew'],
  [/\.(tolerance|grab)(\.|$)/, 'limits_anew'],
  [/^(falseAlarmBudget|detection)(\.|$)/, 'limits_anew'],
]

/** @param path of the changed field, as a register message lists it */
export function effectOf(path: string): Effect {
  return RULES.find(([pattern]) => pattern.test(path))?.[1] ?? 'charts_go_on'
}
