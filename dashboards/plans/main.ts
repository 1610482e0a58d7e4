import { offerPages } from '../shared/page-links.js';
import { part } from '../shared/page-parts.js';

offerPages(part('pages'), 'plans');
