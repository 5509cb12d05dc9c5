import type { Diluted, Dilution, DilutionInput } from '../../compare/dilution.js'
import { roundSignificant } from '../../model/rounding.js'
import { DILUTION_CAUTIONS, DILUTION_HOLDING, dilutionSteps } from '../../recommend/dilutionSteps.js'
import { textTable } from './textTable.js'
import { COLUMNS, wrapText } from './wrap.js'

/** The sheet of a dilution: value first, cautions before steps, then where the uncertainty comes from. */
export function renderDilutionText(dilution: Dilution, made: Diluted): string {
  return `${[
    paragraph(dilutionSentence(made)),
    ['CAUTIONS', ...DILUTION_CAUTIONS.map(caution => paragraph(`- ${caution}`))].join('\n'),
    ['STEPS, IN THIS ORDER', ...dilutionSteps(dilution).map((step, i) => paragraph(`${String(i + 1)}. ${step}`))].join(
      '\n',
    ),
    paragraph(DILUTION_HOLDING),
    ['WHERE THE UNCERTAINTY COMES FROM', budgetTable(dilution, made)].join('\n'),
    paragraph(
      'Law of propagation of uncertainty, JCGM 100:2008, 5.1.2; inputs not correlated; both volumes at one temperature.',
    ),
  ].join('\n\n')}\n`
}

/** "20.02 NTU with a standard uncertainty of 0.20 NTU (1 %); 95 % lie within 0.40 NTU of it (k = 2): label it so." */
export function dilutionSentence({ valueNtu, standardUncertaintyNtu, budget }: Diluted): string {
  const places = placesOf(standardUncertaintyNtu)
  const most = [...budget].sort((a, b) => b.share - a.share)[0]!
  const percent = roundSignificant((100 * standardUncertaintyNtu) / valueNtu, 2)
  const value = standardUncertaintyNtu === 0 ? String(roundSignificant(valueNtu, 6)) : valueNtu.toFixed(places)
  const u = standardUncertaintyNtu.toFixed(places)
  const half = (2 * standardUncertaintyNtu).toFixed(places)
  return `The dilution is worth ${value} NTU with a standard uncertainty of ${u} NTU (${String(percent)} %), ± ${half} NTU with k = 2, most of it from the ${INPUT_TEXT[most.input]}: write both on its label.`
}

const INPUT_TEXT: Readonly<Record<DilutionInput, string>> = {
  stock: 'stock',
  water: 'dilution water',
  pipette: 'volume taken',
  flask: 'volume of the flask',
}

const TABLE = [
  { head: 'input', width: 20 },
  { head: 'value', width: 12 },
  { head: 'standard uncertainty', width: 14 },
  { head: 'in the result, NTU', width: 14 },
  { head: 'share of the variance', width: 14 },
]

function budgetTable({ stockNtu, waterNtu, takenMl, flaskMl }: Dilution, { budget }: Diluted): string {
  const inputs = {
    stock: { ...stockNtu, unit: 'NTU' },
    water: { ...waterNtu, unit: 'NTU' },
    pipette: { ...takenMl, unit: 'mL' },
    flask: { ...flaskMl, unit: 'mL' },
  }
  return textTable(
    TABLE,
    budget.map(({ input, ntu, share }) => {
      const { value, standardUncertainty, unit } = inputs[input]
      return [
        INPUT_TEXT[input],
        `${String(roundSignificant(value, 6))} ${unit}`,
        `${String(roundSignificant(standardUncertainty, 2))} ${unit}`,
        String(roundSignificant(ntu, 2)),
        `${String(roundSignificant(100 * share, 2))} %`,
      ]
    }),
    false,
  )
}

/** Decimal places of two significant digits of the uncertainty. */
function placesOf(standardUncertainty: number): number {
  let places = 0
  for (let scaled = standardUncertainty; scaled > 0 && scaled < 9.95 && places < 9; scaled *= 10) places += 1
  return places
}

function paragraph(text: string): string {
  return wrapText(text, COLUMNS)
}
