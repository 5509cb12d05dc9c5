import { basename } from 'node:path'
import type { CsvMap } from '../adapters/csvMap.js'
import { draftRegister } from '../adapters/draftRegister.js'
import { readInputs } from '../adapters/inputSource.js'
import { createSurvey } from '../adapters/survey.js'
import type { RegisterFile } from '../model/register.js'
import type { Terminal } from './terminal.js'

/** Looks through files and drafts a register that fits them; tells why where it cannot. */
export async function draftFrom(
  files: readonly { readonly path: string; readonly map: CsvMap }[],
  options: { readonly plant?: string; readonly timeZone: string },
  terminal: Terminal,
): Promise<RegisterFile | undefined> {
  const survey = createSurvey()
  for (const { path, map } of files) {
    const defaults = { map, timeZone: options.timeZone, unitOf: () => undefined, unitOfPoint: () => undefined }
    const sink = { input: ({ message }: { readonly message: unknown }) => survey.take(message), missing: () => {} }
    const problem = await readInputs(path, 'file', defaults, sink)
    if (problem !== undefined) {
      terminal.tell(`${problem.file}: ${problem.problem}`)
      return undefined
    }
  }
  if (survey.analyzers.size === 0) {
    terminal.tell(`${files.map(({ path }) => path).join(', ')}: no reading could be read`)
    return undefined
  }
  return draftRegister(survey, options.plant ?? basename(files[0]!.path).replace(/\..*$/, ''), options.timeZone)
}
