import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { explainRecommendation } from '../core/explain.js'
import type { PlantState } from '../core/plantState.js'
import { renderEvidencePage } from '../report/evidencePage.js'
import type { Core } from './plantRunner.js'

export interface WrittenPage {
  readonly file: string
  readonly title: string
}

/** A core that writes a page of evidence whenever a recommendation is opened, as things stood at that moment. */
export function evidenceAtOpening(
  core: Core<PlantState>,
  folder: string,
  written: (page: WrittenPage) => void,
): Core<PlantState> {
  return {
    ...core,
    step: (state, input, series) => {
      const stepped = core.step(state, input, series)
      for (const event of stepped.events) {
        if (event.type !== 'recommendation.opened') continue
        const explanation = explainRecommendation(stepped.state, event.data.recommendation)
        if (explanation === undefined) continue
        const target = Object.values(event.data.target).join('-')
        const file = `${event.time.slice(0, 10)}-${target}-${event.data.action}.html`
        writeFileSync(join(folder, file), renderEvidencePage(explanation))
        written({ file, title: event.data.summary })
      }
      return stepped
    },
  }
}
