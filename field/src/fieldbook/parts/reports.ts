/* What a keeper said of bees that came or went, in words. */

import { write } from '../../words/words';
import type { Bodies } from '../contract';
import { w, wordFor } from './say';

export function reportText(report: Bodies['keeper_said']): string {
  const goods = wordFor(`goods.${report.goods}`, report.goods);
  const other = report.other ?? report.other_said;
  const said = [
    report.quantity === null ? goods : w('report_quantity', { quantity: report.quantity, goods }),
    other ? w(`report_${report.direction}`, { other }) : w(`report_${report.direction}_unknown`),
  ];
  if (report.moved_on) said.push(write('moved_on', report.moved_on));
  return said.join(' · ');
}
